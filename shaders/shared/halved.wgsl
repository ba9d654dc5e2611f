// One byte of each channel of a picture that is held in 16-bit floats: the higher or the lower one.

struct Settings {
    // Bits below it: 8 or 0.
    below: u32,
}

// The bits of a 16-bit float (IEEE 754 binary16); `c` is one already.
fn half_bits(c: f32) -> u32 {
    let bits = bitcast<u32>(c);
    let sign = (bits >> 16u) & 0x8000u;
    if abs(c) < 0.00006103515625 {
        // Below 2^-14 it counts steps of 2^-24.
        return sign | u32(round(abs(c) * 16777216.0));
    }
    // Exponents begin at 15 in place of 127, and 10 bits of 23 are behind the point.
    return sign | (((bits >> 13u) & 0x3ffffu) - (112u << 10u));
}

fn result_at(at: vec2i) -> vec4f {
    let c = stored(at);
    let bits = vec4u(half_bits(c.r), half_bits(c.g), half_bits(c.b), half_bits(c.a));
    return vec4f((bits >> vec4u(settings.below)) & vec4u(0xffu)) / 255.0;
}
