// Several runs of effects in one dispatch: each picture takes one of them.

struct Job {
    from_layer: u32,
    into_layer: u32,
    run: u32,
    unused: u32,
}

@group(0) @binding(1) var<uniform> settings: Settings;

var<private> run_taken: u32;

fn take_settings(job: Job) {
    run_taken = job.run;
}
