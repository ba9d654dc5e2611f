// What leaves the program: sRGB-encoded bytes with straight alpha.

fn output_texel(premultiplied: vec4f) -> vec4f {
    let c = unpremultiplied(premultiplied);
    return byte_rounded(vec4f(srgb_from_working(c.rgb), c.a));
}
