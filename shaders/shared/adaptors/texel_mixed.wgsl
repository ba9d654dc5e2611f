// How `colour` gives a texel: all channels together, never told where.

fn result_at(at: vec2i) -> vec4f {
    let c = straight(at);
    return premultiplied(vec4f(colour(c.rgb), c.a));
}
