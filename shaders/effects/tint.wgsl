//! summary = "Washes the picture with one colour; what was light stays light."
//! also = ["colour wash", "one colour", "colourise", "monochrome", "black and white", "sepia"]
//! does = "mixes the channels"
//! reach = "texel"
//! channels = "mixed"
//! position = "ignored"
//!
//! [[setting]]
//! name = "colour"
//! label = "Colour"
//! help = "The colour that white becomes at full amount."
//! kind = "colour"
//! default = "#ff8c33"
//!
//! [[setting]]
//! name = "amount"
//! label = "Amount"
//! help = "How much of the wash: at 0 the picture is left alone, in full one colour is left."
//! kind = "number"
//! unit = "share"
//! range = [0.0, 1.0]
//! default = 0.6
//!
//! [[idle]]
//! setting = "amount"
//! is = 0.0
//! because = "no colour is mixed in"

struct Settings {
    colour: vec3f,
    amount: f32,
}

fn colour(c: vec3f) -> vec3f {
    let luminance = weighed(c, LUMINANCE_WEIGHTS);
    return between(c, luminance * settings.colour, settings.amount);
}
