//! summary = "Makes a negative: light turns dark, and each colour its opposite."
//! also = ["negative", "opposite colours", "light and dark swapped"]
//! does = "swaps light and dark"
//! reach = "texel"
//! channels = "apart"
//! position = "ignored"
//!
//! [[setting]]
//! name = "amount"
//! label = "Amount"
//! help = "At 0 the picture is left alone, in full it is the negative; half way all is grey."
//! kind = "number"
//! unit = "share"
//! range = [0.0, 1.0]
//! default = 1.0
//!
//! [[idle]]
//! setting = "amount"
//! is = 0.0
//! because = "none of the negative is mixed in"

struct Settings {
    amount: f32,
}

fn channel(value: f32, index: u32) -> f32 {
    return value + (1.0 - 2.0 * value) * settings.amount;
}
