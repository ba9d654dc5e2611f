//! summary = "Makes red from green."
//! does = "makes red from green"
//! reach = "neighbourhood"
//! radius = 1
//! channels = "apart"
//! position = "ignored"

struct Settings {
    none: u32,
}

fn area(at: vec2i) -> vec4f {
    let c = straight(at);
    return vec4f(0.5 * (c.r + c.g), c.g, c.b, c.a);
}
