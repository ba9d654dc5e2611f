//! summary = "Holds the picture still, and takes a new one every so many beats."
//! also = ["freeze", "still", "stop motion", "stutter", "low frame rate"]
//! does = "shows the picture of a moment ago"
//! reach = "past frames"
//! channels = "apart"
//! position = "ignored"
//!
//! [[setting]]
//! name = "every"
//! label = "Every"
//! help = "Beats from one new picture to the next, counted from beat 0; 0 holds nothing."
//! kind = "number"
//! unit = "beats"
//! range = [0.0, 16.0]
//! default = 1.0
//!
//! [[derived]]
//! name = "is_due"
//! kind = "due"
//! from = { every = "every" }
//!
//! [memory]
//! held = "is_due"
//!
//! [[idle]]
//! setting = "every"
//! is = 0.0
//! because = "it takes every picture"

struct Settings {
    is_due: u32,
}

fn channel_over_past(now: f32, past: f32, index: u32) -> f32 {
    return now;
}
