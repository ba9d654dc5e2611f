//! summary = "A smooth ramp: hue from left to right, light above and dark below."
//! reach = "source"

struct Settings {
    none: u32,
}

// Fully saturated colour of a hue in turns: red, yellow, green, cyan, blue, magenta.
fn pure(hue: f32) -> vec3f {
    let apart = abs(fract(vec3f(hue) + vec3f(0.0, 2.0, 1.0) / 3.0) * 6.0 - 3.0);
    return clamp(apart - 1.0, vec3f(0.0), vec3f(1.0));
}

fn paint(at: vec2i) -> vec4f {
    let share = (vec2f(at) + 0.5) / vec2f(frame_size());
    // Five sixths of the circle, so that the two ends differ.
    let hue = pure(share.x * 0.8333333);
    let light = 1.0 - share.y;
    // Through the pure colour at half height; the curve eases into white and black.
    let pale = between(hue, vec3f(1.0), smoothstep(0.5, 1.08, light));
    return vec4f(pale * smoothstep(-0.06, 0.5, light), 1.0);
}
