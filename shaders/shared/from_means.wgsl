// How far small pictures are from a mean, squared, over all texels.

struct Job {
    layer: u32,
    // Which sum the mean is made of, and what it weighs.
    column: u32,
    weight: u32,
    // Where the parts of the answer begin, in words.
    into: u32,
}

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
            let sum = sum_at(job.column, id.x, y);
            squares += squared(apart(small_lab(job.layer, vec2u(id.x, y), small), 1u, sum, job.weight));
        }
    }
    leave(squares, job.into, group, groups, local);
}
