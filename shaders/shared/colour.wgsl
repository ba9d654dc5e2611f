// Colour arithmetic that every shader may use.

// Luminance weights of linear RGB with the BT.709 primaries (ITU-R BT.709); on
// encoded values the same weights give luma.
const LUMINANCE_WEIGHTS = vec3f(0.2126, 0.7152, 0.0722);

// The sum of the channels, each times its weight; `dot` leaves open in which order it adds, and an
// adapter's own order can tip a later rounding.
fn weighed(c: vec3f, weights: vec3f) -> f32 {
    return c.r * weights.r + c.g * weights.g + c.b * weights.b;
}

// From `a` at t = 0 to `b` at t = 1; at t = 0 it is `a` to the last bit.
fn between(a: vec3f, b: vec3f, t: f32) -> vec3f {
    return a + (b - a) * t;
}

// sRGB transfer function (IEC 61966-2-1), both ways, for values from 0 to 1.
fn linear_from_srgb(c: vec3f) -> vec3f {
    let high = pow((c + 0.055) / 1.055, vec3f(2.4));
    return select(high, c / 12.92, c <= vec3f(0.04045));
}

fn srgb_from_linear(c: vec3f) -> vec3f {
    let high = 1.055 * pow(c, vec3f(1.0 / 2.4)) - 0.055;
    return select(high, c * 12.92, c <= vec3f(0.0031308));
}

// Half, and 2^-14. Settings such as 0.35 put many values exactly half way between
// two bytes, where an adapter's last bit would decide; the surplus, larger than
// what floats are wrong by and smaller than any step of the luminance weights,
// sends all of them up.
const HALF_AND_A_LITTLE = 0.50006103515625;

// The nearest value that 8 bits hold, so that every adapter stores the same byte.
fn byte_rounded(c: vec4f) -> vec4f {
    return floor(clamp(c, vec4f(0.0), vec4f(1.0)) * 255.0 + HALF_AND_A_LITTLE) / 255.0;
}
