// How far the mean of a weighted sum is from the mean of what it leaves of the whole, squared, over all texels.

struct Settings {
    width: u32,
    height: u32,
    // Where the sums begin, in words; the first is the whole.
    sums: u32,
    unused: u32,
}

struct Job {
    // Which sum, and what it weighs and leaves; neither is 0.
    column: u32,
    holding: u32,
    others: u32,
    // Where the parts of the answer begin, in words.
    into: u32,
}

@group(0) @binding(0) var picture: texture_2d_array<f32>;
@group(0) @binding(1) var<uniform> settings: Settings;
@group(0) @binding(2) var<storage, read_write> figures: array<i32>;
@group(0) @binding(3) var<storage, read> jobs: array<Job>;

fn sum_at(at: u32) -> vec3i {
    return vec3i(figures[at], figures[at + 1u], figures[at + 2u]);
}

@compute @workgroup_size(64, 1)
fn between_means_main(
    @builtin(global_invocation_id) id: vec3u,
    @builtin(workgroup_id) group: vec3u,
    @builtin(num_workgroups) groups: vec3u,
    @builtin(local_invocation_index) local: u32,
) {
    let job = jobs[id.z];
    let texels = settings.width * settings.height;
    var squares = 0.0;
    if id.x < settings.width {
        let end = min((id.y + 1u) * BAND_ROWS, settings.height);
        for (var y = id.y * BAND_ROWS; y < end; y++) {
            let texel = (y * settings.width + id.x) * 3u;
            let whole = sum_at(settings.sums + texel);
            let one = sum_at(settings.sums + job.column * texels * 3u + texel);
            squares += squared(apart(one, job.holding, whole - one, job.others));
        }
    }
    let all = summed(squares, local);
    if local == 0u {
        figures[job.into + group.y * groups.x + group.x] = bitcast<i32>(all);
    }
}
