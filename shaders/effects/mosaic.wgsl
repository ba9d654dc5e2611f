//! summary = "Cuts the picture into square tiles of one colour each."
//! also = ["pixels", "pixelate", "blocks", "squares", "low resolution"]
//! does = "shows one pixel for each tile"
//! reach = "move"
//! channels = "together"
//! position = "matters"
//!
//! [[setting]]
//! name = "across"
//! label = "Across"
//! help = "Tiles across the width of the frame: fewer are larger, whatever the frame's size."
//! kind = "whole"
//! unit = "tiles"
//! range = [1, 320]
//! default = 64

struct Settings {
    across: i32,
}

// A tile shows the texel in its middle, not its mean: that keeps colours crisp,
// costs one look, and makes this a move, which every texel effect commutes with.
fn source(at: vec2i) -> vec2i {
    let size = frame_size();
    // A tile's side is size.x / across texels, seldom a whole number; the tiles are.
    let tile = at * settings.across / size.x;
    let first = first_texel(tile, size.x);
    let last = min(first_texel(tile + 1, size.x), size) - 1;
    return (first + last) / 2;
}

fn first_texel(tile: vec2i, width: i32) -> vec2i {
    return (tile * width + settings.across - 1) / settings.across;
}
