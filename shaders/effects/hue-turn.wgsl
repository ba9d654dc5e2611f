//! summary = "Turns every colour round the colour wheel; greys stay grey."
//! also = ["colour shift", "recolour", "rainbow", "other colours", "hue rotation"]
//! does = "turns hues by mixing the channels"
//! reach = "texel"
//! channels = "mixed"
//! position = "ignored"
//!
//! [[setting]]
//! name = "angle"
//! label = "Angle"
//! help = "How far round: 120 sends red to green, -120 to blue, 180 to its opposite."
//! kind = "number"
//! unit = "degrees"
//! range = [-360.0, 360.0]
//! default = -90.0
//!
//! [[derived]]
//! name = "direction"
//! kind = "direction"
//! from = { angle = "angle" }
//!
//! [[idle]]
//! setting = "angle"
//! is = 0.0
//! because = "the hues are not turned"
//!
//! [[idle]]
//! setting = "angle"
//! is = 360.0
//! because = "a whole turn brings every hue home"
//!
//! [[idle]]
//! setting = "angle"
//! is = -360.0
//! because = "a whole turn brings every hue home"

struct Settings {
    direction: vec2f,
}

// `hueRotate` of W3C Filter Effects Module Level 1 (feColorMatrix). Its three
// matrices are the grey of a colour, what the colour has beside that grey, and
// the same a quarter turn on.
fn colour(c: vec3f) -> vec3f {
    let grey = vec3f(weighed(c, vec3f(0.213, 0.715, 0.072)));
    let quarter_on = vec3f(
        weighed(c, vec3f(-0.213, -0.715, 0.928)),
        weighed(c, vec3f(0.143, 0.140, -0.283)),
        weighed(c, vec3f(-0.787, 0.715, 0.072)),
    );
    return grey + settings.direction.x * (c - grey) + settings.direction.y * quarter_on;
}
