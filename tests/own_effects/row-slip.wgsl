//! summary = "Slips every second row sideways; what leaves on one side comes back on the other."
//! does = "moves every second row"
//! reach = "move"
//! channels = "together"
//! position = "matters"
//!
//! [[setting]]
//! name = "by"
//! label = "By"
//! help = "How far the second, fourth, sixth row slips to the right."
//! kind = "whole"
//! unit = "texels"
//! range = [0, 64]
//! default = 3

struct Settings {
    by: i32,
}

fn source(at: vec2i) -> vec2i {
    let width = frame_size().x;
    // A few widths on top keep the remainder of a whole number positive.
    let slipped = (at.x + 64 * width - settings.by) % width;
    return vec2i(select(at.x, slipped, at.y % 2 == 1), at.y);
}
