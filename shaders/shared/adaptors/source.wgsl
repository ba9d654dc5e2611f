// How `paint` gives a texel of a generated source: sRGB-encoded, with straight alpha.

fn result_at(at: vec2i) -> vec4f {
    let painted = paint(at);
    return premultiplied(vec4f(working_from_srgb(clamp(painted.rgb, vec3f(0.0), vec3f(1.0))), painted.a));
}
