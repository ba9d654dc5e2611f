//! summary = "Darkens."
//! does = "darkens"
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
//! is = 7.0
//! because = "it says so"

struct Settings {
    amount: f32,
}

fn channel(value: f32, index: u32) -> f32 {
    return value * (1.0 - settings.amount);
}
