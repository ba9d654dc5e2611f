// How `source` moves each channel on its own; alpha is the largest of the three taken.

fn source_of(at: vec2i, channel: u32) -> vec2i {
    return clamp(source(at, channel), vec2i(0), frame_size() - 1);
}

fn result_at(at: vec2i) -> vec4f {
    let r = stored(source(at, 0u));
    let g = stored(source(at, 1u));
    let b = stored(source(at, 2u));
    return vec4f(r.r, g.g, b.b, max(r.a, max(g.a, b.a)));
}
