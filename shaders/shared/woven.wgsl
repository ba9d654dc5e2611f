// Several steps in one pass: each texel of an area goes through all of them before it is stored.

struct Area {
    first: vec2i,
    // Behind the last column and row.
    end: vec2i,
    // Of the result, and of those pictures that have one for each.
    layer: i32,
    unused: i32,
}

var<private> woven_layer: i32;

fn frame_size() -> vec2i {
    return vec2i(textureDimensions(result));
}

// Each invocation takes one column of a few rows.
@compute @workgroup_size(WORKGROUP_WIDTH, WORKGROUP_HEIGHT)
fn pass_main(@builtin(global_invocation_id) id: vec3u) {
    let area = areas[id.z];
    woven_layer = area.layer;
    let top = area.first + vec2i(i32(id.x), i32(id.y * ROWS_AT_ONCE));
    if top.x >= area.end.x {
        return;
    }
    for (var row = 0; row < i32(ROWS_AT_ONCE) && top.y + row < area.end.y; row++) {
        let at = top + vec2i(0, row);
        textureStore(result, at, area.layer, quantised(woven(at)));
    }
}
