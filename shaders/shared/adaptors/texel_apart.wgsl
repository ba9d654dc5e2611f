// How `channel` gives a texel: each channel alone, never told where.

fn result_at(at: vec2i) -> vec4f {
    let c = straight(at);
    return premultiplied(vec4f(channel(c.r, 0u), channel(c.g, 1u), channel(c.b, 2u), c.a));
}
