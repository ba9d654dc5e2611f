// How `colour_at` gives a texel: all channels together, told where.

fn result_at(at: vec2i) -> vec4f {
    let c = straight(at);
    return premultiplied(vec4f(colour_at(c.rgb, at), c.a));
}
