// One effect over many pictures at once: one job a picture, one layer a picture.

@group(0) @binding(2) var result: Target;
@group(0) @binding(3) var<storage, read> jobs: array<Job>;

fn put(at: vec2i, into_layer: u32, c: vec4f) {
    if at.y < frame_size().y {
        textureStore(result, at, into_layer, c);
    }
}

// Each invocation takes one column of a few rows.
@compute @workgroup_size(WORKGROUP_WIDTH, WORKGROUP_HEIGHT)
fn pass_main(@builtin(global_invocation_id) id: vec3u) {
    let at = vec2i(i32(id.x), i32(id.y * ROWS_AT_ONCE));
    if at.x >= frame_size().x {
        return;
    }
    let job = jobs[id.z];
    take_settings(job);
    layer = job.from_layer;
    past_layer = job.into_layer;
    take_rows(at, job.into_layer);
}
