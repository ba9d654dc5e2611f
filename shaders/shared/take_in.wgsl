// Takes in a decoded picture: sRGB-encoded bytes with straight alpha, as files hold them.

struct Settings {
    none: u32,
}

fn result_at(at: vec2i) -> vec4f {
    // As bytes, whatever the pixel mode: `stored` would round them to what the mode holds.
    let c = byte_rounded(textureLoad(picture, at, layer, 0));
    return premultiplied(vec4f(working_from_srgb(c.rgb), c.a));
}
