//! summary = "Landfall at sunset: a ferry comes in under a low sun, past painted houses and sails, all on the water again."
//! reach = "source"
//!
//! [[derived]]
//! name = "turn"
//! kind = "turn"
//! from = { rate = 0.03125, phase = 0.0 }

struct Settings {
    turn: f32,
}

// Lengths are in frame heights, from the top left.
const SHORE = 0.640;
const WATERLINE = 0.765;
const SUN = 0.400;

// A sine's shape out of two parabolas: period 1, from -1 to 1.
fn swing(t: f32) -> f32 {
    let s = fract(t) * 2.0 - 1.0;
    return 4.0 * s * (1.0 - abs(s));
}

// A number in 0..1 that looks drawn by lot, from whole numbers.
fn drawn(a: i32, b: i32) -> f32 {
    var h = (u32(a) * 0x9e3779b1u) ^ (u32(b) * 0x85ebca77u + 0x27d4eb2fu);
    h = (h ^ (h >> 16u)) * 0x7feb352du;
    h = (h ^ (h >> 15u)) * 0x846ca68bu;
    return f32((h ^ (h >> 16u)) >> 8u) / 16777216.0;
}

// How much of a texel lies inside a shape, from the signed distance to its edge.
fn cover(outside: f32) -> f32 {
    return clamp(0.5 - outside * f32(frame_size().y), 0.0, 1.0);
}

fn block(p: vec2f, low: vec2f, high: vec2f) -> f32 {
    return max(max(low.x - p.x, p.x - high.x), max(low.y - p.y, p.y - high.y));
}

fn sky(p: vec2f, wide: f32) -> vec3f {
    let up = clamp(1.0 - p.y / SHORE, 0.0, 1.0);
    var c = between(vec3f(1.0, 0.74, 0.40), vec3f(0.98, 0.42, 0.36), smoothstep(0.0, 0.34, up));
    c = between(c, vec3f(0.56, 0.22, 0.54), smoothstep(0.22, 0.66, up));
    c = between(c, vec3f(0.13, 0.14, 0.44), smoothstep(0.55, 1.0, up));
    let sun = vec2f(0.5 * wide, SUN);
    let d = p - sun;
    let near = 1.0 / (1.0 + 9.0 * dot(d, d));
    c = between(c, vec3f(1.0, 0.78, 0.42), near * near * 0.70);
    // The sun, barred by thin cloud.
    let disc = sqrt(dot(d, d)) - 0.205;
    let low = clamp((d.y + 0.205) / 0.41, 0.0, 1.0);
    c = between(c, between(vec3f(1.0, 0.97, 0.74), vec3f(1.0, 0.62, 0.28), low), cover(disc));
    let drift = 0.020 * swing(settings.turn + p.x * 0.35) + 0.008 * swing(p.x * 1.3 - settings.turn);
    for (var bar = 0; bar < 4; bar++) {
        let n = f32(bar);
        let y = 0.165 + 0.088 * n + drift * (1.0 - 0.2 * n);
        let thick = 0.008 + 0.006 * drawn(bar, 5);
        let reach = abs(p.x - wide * (0.5 + 0.34 * (drawn(bar, 9) - 0.5))) - wide * (0.16 + 0.26 * drawn(bar, 2));
        let cloud = max(abs(p.y - y) - thick * clamp(-reach * 3.0, 0.0, 1.0), reach);
        c = between(c, between(vec3f(0.62, 0.24, 0.50), vec3f(1.0, 0.50, 0.36), clamp(0.2 + 0.3 * n, 0.0, 1.0)), 0.85 * cover(cloud));
    }
    return c;
}

// The paint of a house, by lot.
fn paint_of(house: i32) -> vec3f {
    let kind = (house * 5 + 2) % 6;
    var c = vec3f(0.93, 0.36, 0.24);
    c = select(c, vec3f(0.98, 0.76, 0.28), kind == 1);
    c = select(c, vec3f(0.16, 0.56, 0.62), kind == 2);
    c = select(c, vec3f(0.96, 0.90, 0.80), kind == 3);
    c = select(c, vec3f(0.86, 0.40, 0.56), kind == 4);
    c = select(c, vec3f(0.30, 0.40, 0.72), kind == 5);
    return c;
}

// A row of gabled houses, `q` from the foot of its first, up is positive.
fn houses(below: vec3f, q: vec2f, count: i32, seed: i32) -> vec3f {
    let pitch = 0.128;
    let house = i32(floor(q.x / pitch));
    if house < 0 || house >= count || q.y < -0.002 || q.y > 0.47 {
        return below;
    }
    let n = house + seed;
    let inner = vec2f(q.x - f32(house) * pitch - 0.5 * pitch, q.y);
    let half = 0.5 * pitch - 0.0015;
    let eaves = 0.185 + 0.115 * drawn(n, 3);
    let ridge = eaves + 0.055 + 0.020 * drawn(n, 8);
    let gable = max(abs(inner.x) - half, (inner.y - ridge) + abs(inner.x) * (ridge - eaves) / half);
    let tone = paint_of(n);
    // Lit from where the sun stands, darker towards the ground.
    let light = 0.86 + 0.22 * clamp(q.y / 0.36, 0.0, 1.0) - 0.16 * clamp(abs(inner.x) / half - 0.72, 0.0, 1.0);
    var c = between(below, tone * light, cover(max(gable, -inner.y)));
    // The edge of the roof.
    c = between(c, vec3f(0.28, 0.12, 0.16), cover(max(max(gable, -0.010 - gable), eaves - 0.006 - inner.y)));
    // Windows: three in a row, some already lit.
    let grid = vec2f(0.037, 0.062);
    let cell = vec2i(i32(floor(inner.x / grid.x + 0.5)), i32(floor((inner.y - 0.072) / grid.y)));
    let pane = vec2f(inner.x - f32(cell.x) * grid.x, inner.y - 0.072 - (f32(cell.y) + 0.5) * grid.y);
    let window = max(max(abs(pane.x) - 0.0108, abs(pane.y) - 0.0195), max(abs(f32(cell.x)) - 1.4, gable + 0.012));
    let lot = drawn(n * 13 + cell.x, cell.y * 7 + seed);
    let glass = select(vec3f(0.16, 0.16, 0.32), vec3f(1.0, 0.90, 0.56), lot > 0.50);
    if cell.y >= 0 && inner.y < eaves - 0.004 {
        c = between(c, vec3f(0.98, 0.95, 0.90), cover(window - 0.0042));
        c = between(c, glass, cover(window));
        c = between(c, vec3f(0.98, 0.95, 0.90), cover(max(window, min(abs(pane.x), abs(pane.y)) - 0.0014)));
    }
    // A door, and an awning over it.
    let door = block(inner, vec2f(-0.014, 0.0), vec2f(0.014, 0.047));
    c = between(c, vec3f(0.20, 0.13, 0.22), cover(door));
    let awning = max(block(inner, vec2f(-0.050, 0.048), vec2f(0.050, 0.066)), abs(inner.x) * 0.6 + inner.y - 0.088);
    let stripe = fract(inner.x / 0.0166) < 0.5;
    return between(c, select(vec3f(0.97, 0.94, 0.88), vec3f(0.82, 0.22, 0.20), stripe), cover(awning));
}

// Everything beyond the water.
fn shore(p: vec2f, wide: f32) -> vec3f {
    var c = sky(p, wide);
    let hills = SHORE - 0.060 - 0.036 * swing(p.x * 0.50 + 0.15) - 0.012 * swing(p.x * 1.6);
    c = between(c, vec3f(0.52, 0.22, 0.48), cover(hills - p.y));
    let nearer = SHORE - 0.026 - 0.020 * swing(p.x * 0.9 + 0.6) - 0.005 * swing(p.x * 4.0);
    c = between(c, vec3f(0.33, 0.14, 0.40), cover(nearer - p.y));
    c = houses(c, vec2f(p.x + 0.020, SHORE - p.y), 4, 0);
    c = houses(c, vec2f(p.x - wide + 0.400, SHORE - p.y), 4, 11);
    // The quay's edge.
    let quay = min(block(p, vec2f(-1.0, SHORE - 0.004), vec2f(0.530, SHORE + 0.014)), block(p, vec2f(wide - 0.430, SHORE - 0.004), vec2f(wide + 1.0, SHORE + 0.014)));
    return between(c, vec3f(0.36, 0.22, 0.32), cover(quay));
}

struct Painted {
    colour: vec3f,
    cover: f32,
}

fn laid(below: Painted, colour: vec3f, outside: f32) -> Painted {
    let share = cover(outside);
    return Painted(between(below.colour, colour, share), max(below.cover, share));
}

// The ferry, bow to the right, `f` from the middle of her waterline; up is negative.
fn ferry(f: vec2f, small: f32) -> Painted {
    var c = Painted(vec3f(0.0), 0.0);
    let white = between(vec3f(0.86, 0.84, 0.96), vec3f(1.0, 0.95, 0.86), smoothstep(-0.40, 0.30, f.x));
    let slant = f.x + 0.185 - 0.22 * (f.y + 0.20);
    let funnel = max(max(-0.318 - f.y, f.y + 0.170), abs(slant) - 0.052);
    let stripe = abs(f.y + 0.250) < 0.020;
    let red = vec3f(0.90, 0.22, 0.16) * (0.78 + 0.34 * clamp(0.5 + slant / 0.104, 0.0, 1.0));
    c = laid(c, select(select(red, white, stripe), vec3f(0.10, 0.09, 0.16), f.y < -0.294), funnel * small);
    c = laid(c, vec3f(0.30, 0.24, 0.36), block(f, vec2f(0.116, -0.362), vec2f(0.124, -0.20)) * small);
    let waves = 0.006 * swing(f.x * 9.0 + settings.turn * 16.0);
    let flag = block(f, vec2f(0.040, -0.360 + waves), vec2f(0.117, -0.316 + waves));
    c = laid(c, select(vec3f(1.0, 0.80, 0.18), vec3f(0.05, 0.42, 0.72), f.x > 0.079), flag * small);
    let bridge = max(block(f, vec2f(0.030, -0.238), vec2f(0.30, -0.180)), (f.x - 0.215 - 0.35 * (f.y + 0.238)) * 0.94);
    c = laid(c, white, bridge * small);
    let bridge_pane = max(abs(f.y + 0.212) - 0.013, max(bridge + 0.009, 0.0070 - abs(fract(f.x / 0.034) - 0.5) * 0.034 - 0.002));
    c = laid(c, vec3f(0.10, 0.34, 0.52), bridge_pane * small);
    let upper = block(f, vec2f(-0.335, -0.182), vec2f(0.245, -0.130));
    c = laid(c, white * 0.97, upper * small);
    let lower = block(f, vec2f(-0.385, -0.133), vec2f(0.305, -0.078));
    c = laid(c, white * 0.92, lower * small);
    c = laid(c, vec3f(0.95, 0.55, 0.20), block(f, vec2f(-0.395, -0.137), vec2f(0.315, -0.130)) * small);
    let number = i32(floor(f.x / select(0.041, 0.035, f.y < -0.133)));
    let lit = drawn(number, select(1, 2, f.y < -0.133));
    let pane = select(vec3f(1.0, 0.88, 0.50), vec3f(0.14, 0.26, 0.46), lit < 0.42);
    let high = max(max(abs(fract(f.x / 0.035) - 0.5) * 0.035 - 0.0115, abs(f.y + 0.157) - 0.013), max(upper + 0.010, f.x - 0.22));
    let below_deck = max(max(abs(fract(f.x / 0.041) - 0.5) * 0.041 - 0.0145, abs(f.y + 0.105) - 0.0145), max(lower + 0.010, -0.36 - f.x));
    c = laid(c, pane, min(high, below_deck) * small);
    // Hull: blue over a vermilion foot, a white line, a raked bow.
    let raked = (f.x - 0.365 + 0.62 * f.y) * 0.85;
    let sheer = -0.082 - 0.030 * smoothstep(0.18, 0.42, f.x) - f.y;
    let hull = max(max(f.y - 0.004, sheer), max(raked, -0.402 - f.x + 0.10 * f.y));
    let upright = clamp(-f.y / 0.09, 0.0, 1.0);
    c = laid(c, between(vec3f(0.04, 0.16, 0.42), vec3f(0.08, 0.36, 0.66), upright), hull * small);
    c = laid(c, vec3f(0.88, 0.22, 0.14), max(hull, -0.022 - f.y) * small);
    c = laid(c, vec3f(1.0, 0.96, 0.88), max(hull, abs(f.y + 0.062) - 0.0050) * small);
    return c;
}

// A boat under sail, `f` from the middle of her waterline.
fn sailing(f: vec2f, sail: vec3f) -> Painted {
    var c = Painted(vec3f(0.0), 0.0);
    let main = max(max(0.006 - f.x, f.y + 0.036), (f.x - 0.006) * 0.90 - (f.y + 0.330) * 0.44);
    c = laid(c, sail * (0.88 + 0.9 * clamp(f.x, 0.0, 0.14)), main);
    let jib = max(max(f.x + 0.004, f.y + 0.042), -(f.x + 0.004) * 0.90 - (f.y + 0.285) * 0.38);
    c = laid(c, vec3f(1.0, 0.95, 0.84), jib);
    c = laid(c, vec3f(0.30, 0.16, 0.20), block(f, vec2f(-0.003, -0.340), vec2f(0.003, -0.02)));
    let hull = max(max(-0.028 - f.y, f.y - 0.010), max(f.x - 0.120 + 0.24 * f.y, -0.105 - f.x - 0.4 * f.y));
    c = laid(c, vec3f(0.45, 0.14, 0.20), hull);
    return c;
}

fn over(below: vec3f, above: Painted, share: f32) -> vec3f {
    return between(below, above.colour, above.cover * share);
}

// A thing on the water: seen straight above its waterline, broken below it.
fn on_water(p: vec2f, middle: vec2f, ripple: f32) -> vec2f {
    let depth = p.y - middle.y;
    if depth < 0.0 {
        return p - middle;
    }
    return vec2f(p.x - middle.x + ripple * (0.004 + 0.075 * depth), -depth * 1.05 + ripple * depth * 0.18);
}

fn paint(at: vec2i) -> vec4f {
    let size = vec2f(frame_size());
    let wide = size.x / size.y;
    let p = (vec2f(at) + 0.5) / size.y;

    // Ripples: closer together towards the shore, wider in front.
    let depth = max(p.y - SHORE, 0.0);
    let row = 1.1 / (depth + 0.060);
    let ripple = 0.62 * swing(row + 5.0 * settings.turn + 0.35 * swing(p.x * 0.9))
        + 0.38 * swing(row * 2.7 - 7.0 * settings.turn + p.x * 1.3);
    let strength = 0.003 + 0.065 * depth;

    let in_water = p.y > SHORE + 0.014;
    let mirrored = vec2f(p.x + ripple * strength, SHORE - depth * 1.30 + ripple * depth * 0.16);
    var c = shore(select(p, mirrored, in_water), wide);
    if in_water {
        let near = clamp(depth / (1.0 - SHORE), 0.0, 1.0);
        c = between(c * vec3f(0.86, 0.82, 0.90), vec3f(0.10, 0.16, 0.42), 0.10 + 0.50 * near);
        c += max(ripple, 0.0) * (0.03 + 0.06 * near) * vec3f(0.9, 0.6, 0.7);
        // The sun's road.
        let road = abs(p.x - 0.5 * wide + 0.035 * ripple) - 0.09 - 0.20 * near;
        let broken = smoothstep(-0.15, 0.55, ripple + 0.5 * swing(row * 1.7 + p.x * 3.0));
        c = between(c, vec3f(1.0, 0.86, 0.52), clamp(-road * 6.0, 0.0, 1.0) * broken * (0.85 - 0.25 * near));
    }

    let first = sailing(on_water(p, vec2f(0.690 * wide, 0.735 + 0.003 * swing(4.0 * settings.turn + 0.2)), ripple), vec3f(0.98, 0.50, 0.16));
    c = over(c, first, select(1.0, 0.55, p.y > 0.735));
    let second = sailing(on_water(p, vec2f(0.850 * wide, 0.860 + 0.004 * swing(4.0 * settings.turn + 0.6)), ripple) * 0.78, vec3f(0.10, 0.60, 0.60));
    c = over(c, second, select(1.0, 0.55, p.y > 0.860));

    // The ferry rides a little, and shows in the water under her.
    let scale = clamp(wide / 1.90, 0.05, 1.25);
    let middle = vec2f(wide * 0.262 + 0.02 * swing(settings.turn), WATERLINE + 0.0025 * swing(4.0 * settings.turn));
    let own_depth = p.y - middle.y;
    let ship = ferry(on_water(p, middle, ripple) / scale, scale);
    c = over(c, ship, select(0.70 * clamp(1.0 - own_depth / (0.40 * scale), 0.0, 1.0), 1.0, own_depth < 0.0));
    let wash = max(abs(own_depth - 0.003) - 0.0035, max(abs(p.x - middle.x + 0.02 * scale) - 0.41 * scale, 0.0) * 0.4);
    c = between(c, vec3f(1.0, 0.94, 0.90), 0.75 * cover(wash) * (0.6 + 0.4 * ripple));

    // A buoy in front, left.
    let buoy = p - vec2f(0.085 * wide, 0.905 + 0.004 * swing(4.0 * settings.turn + 0.4));
    let float_body = max(max(buoy.y - 0.010, -0.085 - buoy.y), abs(buoy.x) - 0.042 - 0.34 * buoy.y);
    c = between(c, vec3f(0.92, 0.28, 0.16), cover(float_body));
    c = between(c, vec3f(1.0, 0.95, 0.88), cover(max(float_body, abs(buoy.y + 0.036) - 0.011)));
    let lamp = buoy - vec2f(0.0, -0.098);
    c = between(c, vec3f(1.0, 0.92, 0.60), cover(sqrt(dot(lamp, lamp)) - 0.015));
    return vec4f(c, 1.0);
}
