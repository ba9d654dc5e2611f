//! summary = "Dims every few rows, like a picture between the lines of an old screen."
//! does = "darkens some rows and spares the others"
//! reach = "texel"
//! channels = "apart"
//! position = "matters"
//!
//! [[setting]]
//! name = "every"
//! label = "Every"
//! help = "One row in this many is dimmed, the topmost first."
//! kind = "whole"
//! unit = "rows"
//! range = [1, 64]
//! default = 2
//!
//! [[setting]]
//! name = "kept"
//! label = "Kept"
//! help = "How much of a dimmed row's light is kept: 1 leaves the picture alone."
//! kind = "number"
//! unit = "share"
//! range = [0.0, 1.0]
//! default = 0.5
//!
//! [[idle]]
//! setting = "kept"
//! is = 1.0
//! because = "all of the light is kept"

struct Settings {
    every: i32,
    kept: f32,
}

fn channel_at(value: f32, index: u32, at: vec2i) -> f32 {
    return select(value, value * settings.kept, at.y % settings.every == 0);
}
