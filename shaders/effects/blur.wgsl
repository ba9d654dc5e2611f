//! summary = "Softens the picture, as a lens out of focus does."
//! also = ["soft focus", "out of focus", "defocus", "smooth", "haze"]
//! does = "spreads each pixel over its neighbours"
//! reach = "neighbourhood"
//! radius = 16
//! channels = "apart"
//! position = "ignored"
//!
//! [[setting]]
//! name = "radius"
//! label = "Radius"
//! help = "How far light spreads, each way. A large radius is slow: twice as wide takes four times as long."
//! kind = "whole"
//! unit = "pixels"
//! range = [0, 16]
//! default = 8
//!
//! [[idle]]
//! setting = "radius"
//! is = 0.0
//! because = "no light is spread"

struct Settings {
    radius: i32,
}

// A Gaussian whose standard deviation is half the radius, cut off at the radius:
// a square window, which the product of two bells fills evenly enough to look
// round. Premultiplied texels are averaged, so that what is transparent gives
// no colour.
fn area(at: vec2i) -> vec4f {
    let falloff = -2.0 / f32(max(settings.radius * settings.radius, 1));
    var sum = vec4f(0.0);
    var total = 0.0;
    for (var y = -settings.radius; y <= settings.radius; y++) {
        var row_sum = vec4f(0.0);
        var row_total = 0.0;
        for (var x = -settings.radius; x <= settings.radius; x++) {
            let weight = exp(falloff * f32(x * x));
            row_sum += weight * stored(at + vec2i(x, y));
            row_total += weight;
        }
        let weight = exp(falloff * f32(y * y));
        sum += weight * row_sum;
        total += weight * row_total;
    }
    let mean = sum / total;
    // Where all alphas are full both sums are the same, and their quotient must be 1 on every adapter.
    return unpremultiplied(vec4f(mean.rgb, select(mean.a, 1.0, sum.a == total)));
}
