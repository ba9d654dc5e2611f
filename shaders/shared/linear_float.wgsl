// Pixel mode `linear-float`: linear light in 16-bit floats, free to leave 0..1 between steps.

// The largest finite 16-bit float (IEEE 754 binary16): past it a sum would become infinite for good.
const LARGEST_HALF = vec4f(65504.0);

// Its step below the smallest normal one, 2^-14, is 2^-24 whatever the value.
const SMALLEST_NORMAL_HALF = vec4f(0.00006103515625);
const SUBNORMAL_STEPS = 16777216.0;

// The nearest value that a 16-bit float holds, ties to even: left to a store,
// some adapters round to nearest and some toward zero, which darkens at every step.
fn quantised(premultiplied: vec4f) -> vec4f {
    let c = clamp(premultiplied, -LARGEST_HALF, LARGEST_HALF);
    let bits = bitcast<vec4u>(c);
    let tie = (bits >> vec4u(13u)) & vec4u(1u);
    let normal = bitcast<vec4f>((bits + tie + 0xfffu) & vec4u(0xffffe000u));
    let subnormal = round(c * SUBNORMAL_STEPS) / SUBNORMAL_STEPS;
    return select(normal, subnormal, abs(c) < SMALLEST_NORMAL_HALF);
}

fn premultiplied(straight: vec4f) -> vec4f {
    return vec4f(straight.rgb * straight.a, straight.a);
}

fn working_from_srgb(c: vec3f) -> vec3f {
    return linear_from_srgb(c);
}

fn srgb_from_working(c: vec3f) -> vec3f {
    return srgb_from_linear(clamp(c, vec3f(0.0), vec3f(1.0)));
}

// A premultiplied sum; floats may exceed their alpha.
fn limited(premultiplied: vec4f) -> vec4f {
    return premultiplied;
}
