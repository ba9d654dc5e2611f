//! summary = "Moves every second row."
//! does = "moves every second row"
//! reach = "move"
//! channels = "together"
//! position = "matters"
//!
//! [[setting]]
//! name = "steps"
//! label = "Steps"
//! help = "How far it looks."
//! kind = "whole"
//! unit = "texels"
//! range = [0, 5]
//! default = 1
//!
//! [[idle]]
//! setting = "steps"
//! is = 0
//! because = "nothing moves"

struct Settings {
    steps: i32,
}

fn source(at: vec2i) -> vec2i {
    return vec2i(at.x + select(1 + settings.steps, 0, at.y % 2 == 0), at.y);
}
