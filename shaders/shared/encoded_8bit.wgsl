// Pixel mode `encoded-8bit`: sRGB-encoded values, clamped and rounded to 8 bits after every step.

fn quantised(premultiplied: vec4f) -> vec4f {
    return byte_rounded(premultiplied);
}

fn premultiplied(straight: vec4f) -> vec4f {
    return vec4f(clamp(straight.rgb, vec3f(0.0), vec3f(1.0)) * straight.a, straight.a);
}

fn working_from_srgb(c: vec3f) -> vec3f {
    return c;
}

fn srgb_from_working(c: vec3f) -> vec3f {
    return c;
}

// A premultiplied sum kept within its alpha.
fn limited(premultiplied: vec4f) -> vec4f {
    return vec4f(clamp(premultiplied.rgb, vec3f(0.0), vec3f(premultiplied.a)), premultiplied.a);
}
