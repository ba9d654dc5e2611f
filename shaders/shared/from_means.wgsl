// How far small pictures are from a mean, squared, over all texels.

struct Settings {
    width: u32,
    height: u32,
    // Where the sums begin, in words.
    sums: u32,
    unused: u32,
}

struct Job {
    layer: u32,
    // Which sum the mean is made of, and what it weighs.
    column: u32,
    weight: u32,
    // Where the parts of the answer begin, in words.
    into: u32,
}

@group(0) @binding(0) var picture: texture_2d_array<f32>;
@group(0) @binding(1) var<uniform> settings: Settings;
@group(0) @binding(2) var<storage, read_write> figures: array<i32>;
@group(0) @binding(3) var<storage, read> jobs: array<Job>;

@compute @workgroup_size(64, 1)
fn from_means_main(
    @builtin(global_invocation_id) id: vec3u,
    @builtin(workgroup_id) group: vec3u,
    @builtin(num_workgroups) groups: vec3u,
    @builtin(local_invocation_index) local: u32,
) {
    let job = jobs[id.z];
    let small = vec2u(settings.width, settings.height);
    var squares = 0.0;
    if id.x < small.x {
        let end = min((id.y + 1u) * BAND_ROWS, small.y);
        for (var y = id.y * BAND_ROWS; y < end; y++) {
            let at = settings.sums + ((job.column * small.y + y) * small.x + id.x) * 3u;
            let sum = vec3i(figures[at], figures[at + 1u], figures[at + 2u]);
            squares += squared(apart(small_lab(job.layer, vec2u(id.x, y), small), 1u, sum, job.weight));
        }
    }
    let all = summed(squares, local);
    if local == 0u {
        figures[job.into + group.y * groups.x + group.x] = bitcast<i32>(all);
    }
}
