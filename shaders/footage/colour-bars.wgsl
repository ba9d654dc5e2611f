//! summary = "Test bars: eight colours, a grey staircase, and gratings of one, two and four pixels."
//! reach = "source"

struct Settings {
    none: u32,
}

// White, yellow, cyan, green, magenta, red, blue, black: red changes every two
// bars, green every four, blue every one; 75 % but for the white
// (ITU-R BT.471, 100/0/75/0 bars).
fn bar(index: i32) -> vec3f {
    if index == 0 {
        return vec3f(1.0);
    }
    let off = vec3i(index >> 1u, index >> 2u, index) & vec3i(1);
    return 0.75 * vec3f(1 - off);
}

fn paint(at: vec2i) -> vec4f {
    let size = frame_size();
    let bars_end = size.y * 11 / 16;
    let stairs_end = size.y * 14 / 16;
    let column = at.x * 8 / size.x;
    if at.y < bars_end || size.y < 8 {
        return vec4f(bar(column), 1.0);
    }
    if at.y < stairs_end {
        // Eleven steps from black to white, in whole tenths.
        return vec4f(vec3f(f32(at.x * 11 / size.x) / 10.0), 1.0);
    }
    // Left to right: upright lines, coarser and coarser, then lying ones, then a checker.
    switch column {
        case 0, 1: { return grating(at.x, 1u); }
        case 2, 3: { return grating(at.x >> 1u, 1u); }
        case 4: { return grating(at.x >> 2u, 1u); }
        case 5, 6: { return grating(at.y - stairs_end, 1u); }
        default: { return grating((at.x >> 2u) + (at.y >> 2u), 1u); }
    }
}

fn grating(place: i32, mask: u32) -> vec4f {
    let light = f32((u32(place) & mask) ^ 1u);
    return vec4f(between(vec3f(0.05), vec3f(0.95), light), 1.0);
}
