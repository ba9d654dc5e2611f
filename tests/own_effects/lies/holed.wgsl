//! summary = "A grid with holes, said to have none."
//! reach = "source"

struct Settings {
    none: u32,
}

fn paint(at: vec2i) -> vec4f {
    return vec4f(0.5, 0.5, 0.5, select(1.0, 0.0, at.x % 7 == 3));
}
