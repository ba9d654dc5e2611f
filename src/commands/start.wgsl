//! summary = "Turns light to dark and dark to light."
//! also = ["negative", "light and dark swapped"]   # what else people call it: it is found by these words
//! does = "turns every channel over"       # the end of "it ...": proofs and swap tables say it
//! reach = "texel"                         # texel, move, past frames, or neighbourhood with radius = N
//! channels = "apart"                      # apart: each channel from itself alone; mixed; moves: together
//! position = "ignored"                    # ignored, or matters: the same everywhere in the frame or not
//!
//! [[setting]]
//! name = "amount"                         # the key in files, and the member of `Settings` below
//! label = "Amount"
//! help = "At 0 the picture is left alone, in full it is turned over whole."
//! kind = "number"                         # number, whole, colour, choice
//! unit = "share"
//! range = [0.0, 1.0]
//! default = 1.0
//!
//! [[idle]]                                # where nothing changes: rendering puts it to the test
//! setting = "amount"
//! is = 0.0
//! because = "nothing is mixed in"

// What the header declares decides which function this file must have; `underover effects check FILE`
// says which, and renders test pictures to see whether the header is right.

struct Settings {
    amount: f32,
}

// One channel of one texel, 0..1, without its alpha. `index` is 0 for red, 1 for green, 2 for blue.
fn channel(value: f32, index: u32) -> f32 {
    return value + (1.0 - 2.0 * value) * settings.amount;
}
