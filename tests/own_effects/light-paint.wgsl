//! summary = "Gathers every light since the last bar line."
//! does = "keeps the brightest that there was"
//! reach = "past frames"
//! channels = "apart"
//! position = "ignored"
//!
//! [[setting]]
//! name = "bar"
//! label = "Bar"
//! help = "Beats after which it begins anew; 0 gathers nothing."
//! kind = "number"
//! unit = "beats"
//! range = [0.0, 16.0]
//! default = 0.2
//!
//! [[derived]]
//! name = "is_due"
//! kind = "due"
//! from = { every = "bar" }
//!
//! [memory]
//! renewed = "is_due"
//!
//! [[idle]]
//! setting = "bar"
//! is = 0.0
//! because = "it begins anew at every frame"

struct Settings {
    is_due: u32,
}

fn channel_over_past(now: f32, past: f32, index: u32) -> f32 {
    return max(now, past);
}
