// How far the mean of a weighted sum is from the mean of what it leaves of the whole, squared, over all texels; the first sum
// is the whole.

struct Job {
    // Which sum, and what it weighs and leaves; neither is 0.
    column: u32,
    holding: u32,
    others: u32,
    // Where the parts of the answer begin, in words.
    into: u32,
}

@group(0) @binding(3) var<storage, read> jobs: array<Job>;

@compute @workgroup_size(64, 1)
fn between_means_main(
    @builtin(global_invocation_id) id: vec3u,
    @builtin(workgroup_id) group: vec3u,
    @builtin(num_workgroups) groups: vec3u,
    @builtin(local_invocation_index) local: u32,
) {
    let job = jobs[id.z];
    var squares = 0.0;
    if id.x < settings.width {
        let end = min((id.y + 1u) * BAND_ROWS, settings.height);
        for (var y = id.y * BAND_ROWS; y < end; y++) {
            let whole = sum_at(0u, id.x, y);
            let one = sum_at(job.column, id.x, y);
            squares += squared(apart(one, job.holding, whole - one, job.others));
        }
    }
    leave(squares, job.into, group, groups, local);
}
