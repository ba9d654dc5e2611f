// One effect with the same settings over every picture.

struct Job {
    from_layer: u32,
    into_layer: u32,
}

@group(0) @binding(1) var<uniform> settings: Settings;

fn take_settings(job: Job) {}
