// What leaves the program: sRGB-encoded bytes with straight alpha.

// Quantised first: adapters decode a byte to values that differ in the last bit, and a
// colour divided by its alpha may stand just between two bytes.
fn output_texel(premultiplied: vec4f) -> vec4f {
    return output_of(quantised(premultiplied));
}

// Of a texel that is quantised already.
fn output_of(held: vec4f) -> vec4f {
    let c = unpremultiplied(held);
    return byte_rounded(vec4f(srgb_from_working(c.rgb), c.a));
}
