// No light everywhere: transparent, or opaque black.

struct Settings {
    alpha: f32,
}

fn result_at(at: vec2i) -> vec4f {
    return vec4f(vec3f(0.0), settings.alpha);
}
