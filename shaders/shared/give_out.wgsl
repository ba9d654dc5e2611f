// Turns a finished picture into the bytes that are written or shown.

struct Settings {
    none: u32,
}

fn result_at(at: vec2i) -> vec4f {
    return output_texel(stored(at));
}
