// How `channel_at` gives a texel: each channel alone, told where.

fn result_at(at: vec2i) -> vec4f {
    let c = straight(at);
    return premultiplied(vec4f(channel_at(c.r, 0u, at), channel_at(c.g, 1u, at), channel_at(c.b, 2u, at), c.a));
}
