// Where a move takes each channel of each texel from: x in the low half, y in the high half.

@group(0) @binding(2) var<storage, read_write> index_map: array<u32>;

@compute @workgroup_size(WORKGROUP_WIDTH, WORKGROUP_HEIGHT)
fn index_map_main(@builtin(global_invocation_id) id: vec3u) {
    let at = vec2i(id.xy);
    let size = frame_size();
    if any(at >= size) {
        return;
    }
    for (var channel = 0u; channel < 3u; channel++) {
        let from_texel = vec2u(source_of(at, channel));
        index_map[(channel * u32(size.y) + id.y) * u32(size.x) + id.x] = from_texel.x | (from_texel.y << 16u);
    }
}
