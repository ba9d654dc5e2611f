// One effect over many pictures, with settings of its own for each: they stand behind the picture's job.

struct Job {
    from_layer: u32,
    into_layer: u32,
    @align(16) settings: Settings,
}

var<private> settings: Settings;

fn take_settings(job: Job) {
    settings = job.settings;
}
