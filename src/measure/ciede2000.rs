//! CIEDE2000 and CIELAB in 64 bits.

use crate::base::colour::linear_from_srgb;

/// CIE L*, a* and b* of an sRGB colour of 8 bits a channel, under its own white, D65.
///
/// sRGB by IEC 61966-2-1 with its matrix from the primaries (BT.709); the white is what that matrix
/// gives for (1, 1, 1), so that greys have no chroma; L*a*b* by CIE 15.
pub fn lab_from_srgb(rgb: [u8; 3]) -> [f64; 3] {
    let [r, g, b] = rgb.map(|byte| linear_from_srgb(f64::from(byte) / 255.0));
    let row = |[x, y, z]: [f64; 3]| (x * r + y * g + z * b) / (x + y + z);
    let f = |t: f64| {
        const KNEE: f64 = 216.0 / 24389.0;
        const SLOPE: f64 = 24389.0 / 27.0;
        if t > KNEE { t.cbrt() } else { (SLOPE * t + 16.0) / 116.0 }
    };
    let x = f(row([0.4123908, 0.3575843, 0.1804808]));
    let y = f(row([0.2126390, 0.7151687, 0.0721923]));
    let z = f(row([0.0193308, 0.1191948, 0.9505322]));
    [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
}

/// How light a colour of this L* is, on a scale on which no two colours are further apart than their CIEDE2000: so far
/// they are apart at the least.
///
/// The terms of chroma and hue take nothing from that of lightness: their rotation stays below 2, so that together they
/// are a square sum. Of that of lightness, dL' / S_L, `1 / (1 + 0.015 |L* - 50|)` is less than `1 / S_L`; its integral
/// passes `dL' / S_L` between no two L* by more than 1 part in 45, which the factor takes off.
pub fn lightness(l: f64) -> f64 {
    let away = l - 50.0;
    0.97 / 0.015 * (1.75_f64.ln() + away.signum() * (0.015 * away.abs()).ln_1p())
}

/// The CIEDE2000 colour difference of two colours in L*a*b*, with all weights 1.
///
/// As Sharma, Wu and Dalal (2005), "The CIEDE2000 Color-Difference Formula: Implementation Notes,
/// Supplementary Test Data, and Mathematical Observations", equations 2 to 22, set it out.
pub fn ciede2000([l1, a1, b1]: [f64; 3], [l2, a2, b2]: [f64; 3]) -> f64 {
    let seventh = |c: f64| (c.powi(7) / (c.powi(7) + 25_f64.powi(7))).sqrt();
    let stretch = 1.0 + 0.5 * (1.0 - seventh((a1.hypot(b1) + a2.hypot(b2)) / 2.0));
    let (a1, a2) = (a1 * stretch, a2 * stretch);
    let (c1, c2) = (a1.hypot(b1), a2.hypot(b2));
    let hue =
        |a: f64, b: f64| if a == 0.0 && b == 0.0 { 0.0 } else { b.atan2(a).to_degrees().rem_euclid(360.0) };
    let (h1, h2) = (hue(a1, b1), hue(a2, b2));
    let grey = c1 * c2 == 0.0;

    // Whether the hues are more than half a turn apart: the sign of the sine of their difference says
    // so exactly where the rounded angles would not (pairs 9 to 15 of the authors' table).
    let across = a1 * b2 - a2 * b1;
    let apart = (h2 > h1 && across < 0.0) || (h2 < h1 && across > 0.0);
    let turn = match h2 - h1 {
        _ if grey => 0.0,
        turn if apart => turn - 360.0_f64.copysign(turn),
        turn => turn,
    };
    let (dl, dc) = (l2 - l1, c2 - c1);
    let dh = 2.0 * (c1 * c2).sqrt() * (turn / 2.0).to_radians().sin();

    let (l, c) = ((l1 + l2) / 2.0, (c1 + c2) / 2.0);
    let h = match h1 + h2 {
        sum if grey => sum,
        sum if !apart => sum / 2.0,
        sum if sum < 360.0 => (sum + 360.0) / 2.0,
        sum => (sum - 360.0) / 2.0,
    };
    let cos = |degrees: f64| degrees.to_radians().cos();
    let t = 1.0 - 0.17 * cos(h - 30.0) + 0.24 * cos(2.0 * h) + 0.32 * cos(3.0 * h + 6.0)
        - 0.20 * cos(4.0 * h - 63.0);
    let twist = 30.0 * (-((h - 275.0) / 25.0).powi(2)).exp();
    let rotation = -2.0 * seventh(c) * (2.0 * twist).to_radians().sin();
    let light = (l - 50.0).powi(2);
    let (dl, dc, dh) = (
        dl / (1.0 + 0.015 * light / (20.0 + light).sqrt()),
        dc / (1.0 + 0.045 * c),
        dh / (1.0 + 0.015 * c * t),
    );
    (dl * dl + dc * dc + dh * dh + rotation * dc * dh).max(0.0).sqrt()
}
