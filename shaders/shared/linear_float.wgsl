// Pixel mode `linear-float`: linear light in 16-bit floats, free to leave 0..1 between steps.

alias Target = texture_storage_2d_array<rgba16float, write>;

// The largest finite 16-bit float (IEEE 754 binary16): past it a sum would become infinite for good.
const LARGEST_HALF = vec4f(65504.0);

fn quantised(premultiplied: vec4f) -> vec4f {
    return clamp(premultiplied, -LARGEST_HALF, LARGEST_HALF);
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
