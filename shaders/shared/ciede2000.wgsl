// CIE L*a*b* and CIEDE2000 in 32 bits, to about 1e-3 of what 64 bits give.

// Built-in powers and arcs are coarse on some adapters, so that roots are refined
// by a step of Newton's method and the arc is a polynomial of our own.

// sRGB transfer function (IEC 61966-2-1): y = x^2.4 solves y^5 = x^12.
fn linear_exact(c: vec3f) -> vec3f {
    let x = (c + 0.055) / 1.055;
    let y = pow(x, vec3f(2.4));
    let x4 = x * x * x * x;
    let y4 = y * y * y * y;
    let high = y - (y4 * y - x4 * x4 * x4) / (5.0 * y4);
    return select(high, c / 12.92, c <= vec3f(0.04045));
}

fn lab_curve(t: vec3f) -> vec3f {
    let safe = max(t, vec3f(0.001));
    let y = pow(safe, vec3f(1.0 / 3.0));
    let root = y - (y * y * y - safe) / (3.0 * y * y);
    return select(root, (t * (24389.0 / 27.0) + 16.0) / 116.0, t <= vec3f(216.0 / 24389.0));
}

// L*a*b* under D65 of sRGB-encoded values from 0 to 1; rows over the white that they give.
fn lab_from_srgb(encoded: vec3f) -> vec3f {
    let c = linear_exact(encoded);
    let x = dot(c, vec3f(0.43388736, 0.37622398, 0.18988866));
    let y = dot(c, vec3f(0.2126390, 0.7151687, 0.0721923));
    let z = dot(c, vec3f(0.01775002, 0.10944763, 0.87280234));
    let f = lab_curve(vec3f(x, y, z));
    return vec3f(116.0 * f.y - 16.0, 500.0 * (f.x - f.y), 200.0 * (f.y - f.z));
}

// What a screen shows of a texel with straight alpha where nothing is under it.
fn over_black(c: vec4f) -> vec3f {
    return byte_rounded(vec4f(c.rgb * c.a, 1.0)).rgb;
}

const TURN = 6.28318530718;

// The angle of (x, y) from 0 to a turn, to about 2e-7 (Abramowitz and Stegun 4.4.49, from memory).
fn angle_of(x: f32, y: f32) -> f32 {
    let low = min(abs(x), abs(y));
    let high = max(abs(x), abs(y));
    let t = low / max(high, 1e-30);
    let s = t * t;
    var p = 0.0028662257;
    p = p * s - 0.0161657367;
    p = p * s + 0.0429096138;
    p = p * s - 0.0752896400;
    p = p * s + 0.1065626393;
    p = p * s - 0.1420889944;
    p = p * s + 0.1999355085;
    p = p * s - 0.3333314528;
    var angle = t + t * s * p;
    angle = select(angle, TURN / 4.0 - angle, abs(y) > abs(x));
    angle = select(angle, TURN / 2.0 - angle, x < 0.0);
    return select(angle, TURN - angle, y < 0.0);
}

fn seventh(c: f32) -> f32 {
    let c2 = c * c;
    let c7 = c2 * c2 * c2 * c;
    return sqrt(c7 / (c7 + 6103515625.0));
}

// As Sharma, Wu and Dalal (2005), equations 2 to 22, set it out.
fn ciede2000(first: vec3f, second: vec3f) -> f32 {
    let stretch = 1.5 - 0.5 * seventh(0.5 * (length(first.yz) + length(second.yz)));
    let p = vec2f(first.y * stretch, first.z);
    let q = vec2f(second.y * stretch, second.z);
    let c1 = length(p);
    let c2 = length(q);
    let is_grey = c1 * c2 == 0.0;

    // 2 sqrt(c1 c2) sin(half the turn from p to q), without the angles, whose difference would cancel.
    let across = p.x * q.y - p.y * q.x;
    let along = dot(p, q);
    let product = c1 * c2;
    // Adapters that round once where two products are subtracted leave a hair of hues that are just opposite.
    let hair = 4e-7 * (abs(p.x * q.y) + abs(p.y * q.x));
    let side = select(across, 0.0, abs(across) <= hair);
    let h1 = select(angle_of(p.x, p.y), 0.0, c1 == 0.0);
    let h2 = select(angle_of(q.x, q.y), 0.0, c2 == 0.0);
    let is_positive = select(side > 0.0, h2 >= h1, side == 0.0);
    let near = 2.0 * across / sqrt(max(2.0 * (product + along), 1e-30));
    let far = select(-1.0, 1.0, is_positive) * sqrt(max(2.0 * (product - along), 0.0));
    let dh = select(select(far, near, along > 0.0), 0.0, is_grey);
    let dl = second.x - first.x;
    let dc = c2 - c1;

    let sum = h1 + h2;
    // Whether the hues are more than half a turn apart: the sign of the sine of their difference
    // says so more exactly than the angles do.
    let is_apart = (h2 > h1 && side < 0.0) || (h2 < h1 && side > 0.0);
    let around = 0.5 * select(sum - TURN, sum + TURN, sum < TURN);
    let h = select(select(0.5 * sum, around, is_apart), sum, is_grey);

    let l = 0.5 * (first.x + second.x);
    let c = 0.5 * (c1 + c2);
    let degree = TURN / 360.0;
    let t = 1.0 - 0.17 * cos(h - 30.0 * degree) + 0.24 * cos(2.0 * h) + 0.32 * cos(3.0 * h + 6.0 * degree)
        - 0.20 * cos(4.0 * h - 63.0 * degree);
    let away = (h / degree - 275.0) / 25.0;
    let twist = 30.0 * degree * exp(-away * away);
    let rotation = -2.0 * seventh(c) * sin(2.0 * twist);
    let light = (l - 50.0) * (l - 50.0);
    let wl = dl / (1.0 + 0.015 * light / sqrt(20.0 + light));
    let wc = dc / (1.0 + 0.045 * c);
    let wh = dh / (1.0 + 0.015 * c * t);
    return sqrt(max(wl * wl + wc * wc + wh * wh + rotation * wc * wh, 0.0));
}
