//! summary = "Looks further than it says where it is set so."
//! does = "looks further than it says where it is set so"
//! reach = "neighbourhood"
//! radius = 4
//! channels = "apart"
//! position = "ignored"
//!
//! [[setting]]
//! name = "steps"
//! label = "Steps"
//! help = "How far it looks."
//! kind = "whole"
//! unit = "texels"
//! range = [0, 5]
//! default = 1

struct Settings {
    steps: i32,
}

fn area(at: vec2i) -> vec4f {
    let c = straight(at);
    return vec4f(mix(c.rgb, straight(at + vec2i(0, settings.steps)).rgb, vec3f(0.5)), c.a);
}
