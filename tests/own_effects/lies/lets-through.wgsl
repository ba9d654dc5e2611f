//! summary = "Takes alpha away."
//! does = "takes alpha away"
//! reach = "neighbourhood"
//! radius = 1
//! channels = "apart"
//! position = "ignored"

struct Settings {
    none: u32,
}

fn area(at: vec2i) -> vec4f {
    let c = straight(at);
    return vec4f(c.rgb, c.a * 0.5);
}
