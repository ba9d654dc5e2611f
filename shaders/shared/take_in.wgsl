// Takes in a decoded picture: sRGB-encoded bytes with straight alpha, as files hold them.

struct Settings {
    none: u32,
}

fn result_at(at: vec2i) -> vec4f {
    let c = stored(at);
    return premultiplied(vec4f(working_from_srgb(c.rgb), c.a));
}
