// One effect over many pictures at once: one job a picture, one layer a picture.

@group(0) @binding(2) var result: Target;
@group(0) @binding(3) var<storage, read> jobs: array<Job>;

@compute @workgroup_size(WORKGROUP_WIDTH, WORKGROUP_HEIGHT)
fn pass_main(@builtin(global_invocation_id) id: vec3u) {
    let at = vec2i(id.xy);
    if any(at >= frame_size()) {
        return;
    }
    let job = jobs[id.z];
    layer = job.from_layer;
    textureStore(result, at, job.into_layer, quantised(result_at(at)));
}
