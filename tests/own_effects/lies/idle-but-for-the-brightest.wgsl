//! summary = "Darkens what is bright."
//! does = "darkens what is bright"
//! reach = "texel"
//! channels = "apart"
//! position = "ignored"
//!
//! [[setting]]
//! name = "amount"
//! label = "Amount"
//! help = "How much."
//! kind = "number"
//! unit = "share"
//! range = [0.0, 1.0]
//! default = 0.5
//!
//! [[idle]]
//! setting = "amount"
//! is = 0.0
//! because = "nothing is that bright"

struct Settings {
    amount: f32,
}

fn channel(value: f32, index: u32) -> f32 {
    return min(value, 1.0 - 0.02 - 0.5 * settings.amount);
}
