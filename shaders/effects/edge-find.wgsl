//! summary = "Keeps the outlines and drops the surfaces, channel by channel."
//! also = ["outlines", "edges", "contours", "line drawing", "sketch"]
//! does = "looks at each pixel's neighbours"
//! reach = "neighbourhood"
//! radius = 1
//! channels = "apart"
//! position = "ignored"
//!
//! [[setting]]
//! name = "gain"
//! label = "Gain"
//! help = "How strongly an edge shines: at 1 a step from black to white is just full."
//! kind = "number"
//! unit = "times"
//! range = [0.0, 8.0]
//! default = 1.0
//!
//! [[setting]]
//! name = "amount"
//! label = "Amount"
//! help = "At 0 the picture is left alone, in full only the outlines are left."
//! kind = "number"
//! unit = "share"
//! range = [0.0, 1.0]
//! default = 1.0
//!
//! [[idle]]
//! setting = "amount"
//! is = 0.0
//! because = "none of the outlines are mixed in"

struct Settings {
    gain: f32,
    amount: f32,
}

// The Sobel operator: its largest answer to a step from 0 to 1 is 4, hence the quarter.
fn area(at: vec2i) -> vec4f {
    let nw = straight(at + vec2i(-1, -1)).rgb;
    let n = straight(at + vec2i(0, -1)).rgb;
    let ne = straight(at + vec2i(1, -1)).rgb;
    let w = straight(at + vec2i(-1, 0)).rgb;
    let centre = straight(at);
    let e = straight(at + vec2i(1, 0)).rgb;
    let sw = straight(at + vec2i(-1, 1)).rgb;
    let s = straight(at + vec2i(0, 1)).rgb;
    let se = straight(at + vec2i(1, 1)).rgb;

    let across = (ne - nw) + 2.0 * (e - w) + (se - sw);
    let down = (sw - nw) + 2.0 * (s - n) + (se - ne);
    let steepness = sqrt(across * across + down * down);
    let edge = min(0.25 * settings.gain * steepness, vec3f(1.0));
    return vec4f(between(centre.rgb, edge, settings.amount), centre.a);
}
