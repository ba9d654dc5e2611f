//! summary = "Pulls red and blue apart, so that colour fringes open along every edge."
//! also = ["colour fringes", "split colours", "red and blue apart", "misprint", "glitch"]
//! does = "moves each channel its own way"
//! reach = "move"
//! channels = "apart"
//! position = "matters"
//!
//! [[setting]]
//! name = "distance"
//! label = "Distance"
//! help = "How far red and blue each go from green: at 1 % a hundredth of the frame's width, one to each side. Below 0 they change sides."
//! kind = "number"
//! unit = "share of width"
//! range = [-0.25, 0.25]
//! default = 0.01
//!
//! [[setting]]
//! name = "angle"
//! label = "Angle"
//! help = "Which way: at 0 red goes left and blue right, at 90 red goes up and blue down, at 180 red goes right and blue left."
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
