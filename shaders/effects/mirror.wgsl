//! summary = "Folds the picture: one half stays, the other shows it reflected."
//! also = ["flip", "reflection", "symmetry", "fold in half"]
//! does = "moves pixels across the fold"
//! reach = "move"
//! channels = "together"
//! position = "matters"
//!
//! [[setting]]
//! name = "fold"
//! label = "Fold"
//! help = "Which half is kept, and which one shows its reflection."
//! kind = "choice"
//! choices = ["left-over-right", "right-over-left", "top-over-bottom", "bottom-over-top"]
//! default = "left-over-right"

struct Settings {
    fold: u32,
}

fn source(at: vec2i) -> vec2i {
    let reflected = frame_size() - 1 - at;
    switch settings.fold {
        case 0u: { return vec2i(min(at.x, reflected.x), at.y); }
        case 1u: { return vec2i(max(at.x, reflected.x), at.y); }
        case 2u: { return vec2i(at.x, min(at.y, reflected.y)); }
        default: { return vec2i(at.x, max(at.y, reflected.y)); }
    }
}
