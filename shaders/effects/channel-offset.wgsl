//! summary = "Pulls red and blue apart, so that colour fringes open along every edge."
//! does = "moves each channel its own way"
//! reach = "move"
//! channels = "apart"
//! position = "matters"
//!
//! [[setting]]
//! name = "distance"
//! label = "Distance"
//! help = "How far red and blue travel from green, each to its own side."
//! kind = "number"
//! unit = "share of width"
//! range = [-0.25, 0.25]
//! default = 0.01
//!
//! [[setting]]
//! name = "angle"
//! label = "Angle"
//! help = "The direction that red is taken from: 0 is right, 90 is down."
//! kind = "number"
//! unit = "degrees"
//! range = [-360.0, 360.0]
//! default = 0.0
//!
//! [[derived]]
//! name = "offset"
//! kind = "texels"
//! from = { distance = "distance", angle = "angle" }

struct Settings {
    offset: vec2i,
}

fn source(at: vec2i, channel: u32) -> vec2i {
    return at + (1 - i32(channel)) * settings.offset;
}
