//! summary = "Flashes one colour over the picture, in time with the beat."
//! also = ["strobe", "flash", "blink", "flicker", "lightning", "pulse"]
//! does = "pulls every channel toward a fixed colour"
//! reach = "texel"
//! channels = "apart"
//! position = "ignored"
//! flashes = true
//!
//! [[setting]]
//! name = "colour"
//! label = "Colour"
//! help = "The colour of the flash."
//! kind = "colour"
//! default = "#ffffff"
//!
//! [[setting]]
//! name = "strength"
//! label = "Strength"
//! help = "How strongly the flash covers the picture: in full it hides it."
//! kind = "number"
//! unit = "share"
//! range = [0.0, 1.0]
//! default = 1.0
//!
//! [[setting]]
//! name = "rate"
//! label = "Rate"
//! help = "Flashes in each beat; 0 holds the gate where `phase` puts it."
//! kind = "number"
//! unit = "per beat"
//! range = [0.0, 8.0]
//! default = 1.0
//!
//! [[setting]]
//! name = "open"
//! label = "Open"
//! help = "How much of each period the gate is open."
//! kind = "number"
//! unit = "share"
//! range = [0.0, 1.0]
//! default = 0.5
//!
//! [[setting]]
//! name = "phase"
//! label = "Phase"
//! help = "Where in its period the gate stands on beat 0."
//! kind = "number"
//! unit = "periods"
//! range = [0.0, 1.0]
//! default = 0.0
//!
//! [[derived]]
//! name = "is_open"
//! kind = "gate"
//! from = { rate = "rate", phase = "phase", open = "open" }
//!
//! [[idle]]
//! setting = "strength"
//! is = 0.0
//! because = "the flash has no strength"
//!
//! [[idle]]
//! derived = "is_open"
//! is = 0.0
//! because = "the gate is shut at this beat"

struct Settings {
    colour: vec3f,
    strength: f32,
    is_open: u32,
}

fn channel(value: f32, index: u32) -> f32 {
    let flashed = value + (settings.colour[index] - value) * settings.strength;
    return select(value, flashed, settings.is_open == 1u);
}
