//! summary = "Multiplies the light and shifts it: contrast, exposure, burnt-out whites."
//! also = ["brightness", "contrast", "exposure", "lighten", "darken"]
//! does = "scales every channel and shifts it"
//! reach = "texel"
//! channels = "apart"
//! position = "ignored"
//!
//! [[setting]]
//! name = "gain"
//! label = "Gain"
//! help = "How many times as bright: 0 leaves nothing but the lift, 1 changes nothing."
//! kind = "number"
//! unit = "times"
//! range = [0.0, 4.0]
//! default = 1.8
//!
//! [[setting]]
//! name = "lift"
//! label = "Lift"
//! help = "Added afterwards: below 0 the shadows sink to black, above 0 they turn milky."
//! kind = "number"
//! unit = "of full light"
//! range = [-1.0, 1.0]
//! default = -0.15

struct Settings {
    gain: f32,
    lift: f32,
}

fn channel(value: f32, index: u32) -> f32 {
    return value * settings.gain + settings.lift;
}
