//! summary = "Looks further than it says."
//! does = "looks further than it says"
//! reach = "neighbourhood"
//! radius = 1
//! channels = "apart"
//! position = "ignored"

struct Settings {
    none: u32,
}

fn area(at: vec2i) -> vec4f {
    let c = straight(at);
    return vec4f(mix(c.rgb, straight(at + vec2i(3, 0)).rgb, vec3f(0.5)), c.a);
}
