//! summary = "Cuts smooth shades into a few flat steps, like a screen print."
//! also = ["flat colours", "few colours", "screen print", "poster", "cartoon"]
//! does = "rounds every channel to a few levels"
//! reach = "texel"
//! channels = "apart"
//! position = "ignored"
//!
//! [[setting]]
//! name = "steps"
//! label = "Steps"
//! help = "Shades left in each channel: 2 is the hardest, past 16 it hardly shows."
//! kind = "whole"
//! unit = "steps"
//! range = [2, 64]
//! default = 4
//!
//! [[setting]]
//! name = "amount"
//! label = "Amount"
//! help = "At 0 the picture is left alone, in full only the flat steps are left."
//! kind = "number"
//! unit = "share"
//! range = [0.0, 1.0]
//! default = 1.0
//!
//! [[idle]]
//! setting = "amount"
//! is = 0.0
//! because = "none of the steps are mixed in"

struct Settings {
    steps: i32,
    amount: f32,
}

// A value that stands on the foot of a step belongs to it, however its floats
// were rounded. Less than 1/255, so that no other 8-bit value is lifted.
const FOOT = 0.002;

// Every step takes an equal share of the range, and the levels reach from black
// to white. They are steps of the sRGB-encoded value in both pixel modes, so
// that they look even.
fn channel(value: f32, index: u32) -> f32 {
    let steps = f32(settings.steps);
    let encoded = clamp(srgb_from_working(vec3f(value)).r, 0.0, 1.0);
    let step = min(floor(encoded * steps + FOOT), steps - 1.0);
    let level = working_from_srgb(vec3f(step / (steps - 1.0))).r;
    return value + (level - value) * settings.amount;
}
