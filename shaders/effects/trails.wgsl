//! summary = "Lets every light leave a trail that fades: the picture, or what is left of the last one where that is brighter."
//! also = ["afterglow", "echo", "ghosts", "light painting", "motion blur", "smear"]
//! does = "keeps what was brighter a moment ago"
//! reach = "past frames"
//! channels = "apart"
//! position = "ignored"
//!
//! [[setting]]
//! name = "decay"
//! label = "Decay"
//! help = "How much of a trail is left a beat later: more makes longer trails. At 30 % one is down to a third after a beat and gone after about five; 0 leaves none. Every frame takes a little more, so that each trail ends."
//! kind = "number"
//! unit = "share"
//! range = [0.0, 0.95]
//! default = 0.3
//!
//! [[derived]]
//! name = "keep"
//! kind = "fade"
//! from = { left_a_beat = "decay" }
//!
//! [memory]
//! fades = "keep"
//!
//! [[idle]]
//! setting = "decay"
//! is = 0.0
//! because = "no trail is left a frame later"

struct Settings {
    keep: f32,
}

// A trail that has ended takes no part: linear light may lie below 0, and stays there.
fn channel_over_past(now: f32, past: f32, index: u32) -> f32 {
    return select(now, max(now, past), past > 0.0);
}
