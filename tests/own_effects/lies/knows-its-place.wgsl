//! summary = "Darkens every third column."
//! does = "darkens every third column"
//! reach = "neighbourhood"
//! radius = 1
//! channels = "apart"
//! position = "ignored"

struct Settings {
    none: u32,
}

fn area(at: vec2i) -> vec4f {
    let c = straight(at);
    return vec4f(c.rgb * select(1.0, 0.5, at.x % 3 == 0), c.a);
}
