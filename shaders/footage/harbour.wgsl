//! summary = "A harbour at nightfall: a lit ferry, a lighthouse, the town and its quay, all on the water again."
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
const SHORE = 0.555;
const WATERLINE = 0.715;

const LAMPLIGHT = vec3f(1.0, 0.80, 0.40);
const VERMILION = vec3f(0.90, 0.24, 0.12);

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

// The light around a lamp: 1 at the lamp, fading as if in mist, nothing at `reach`.
fn glow(p: vec2f, lamp: vec2f, reach: f32) -> f32 {
    let d = p - lamp;
    let near = max(1.0 - dot(d, d) / (reach * reach), 0.0);
    return near * near * near;
}

fn sky(p: vec2f, wide: f32) -> vec3f {
    let up = clamp(1.0 - p.y / SHORE, 0.0, 1.0);
    let share = p.x / wide;
    var c = between(vec3f(0.36, 0.20, 0.44), vec3f(0.025, 0.04, 0.14), smoothstep(0.0, 0.80, up));
    c = between(c, vec3f(0.04, 0.22, 0.34), share * share * 0.75 * (1.0 - 0.6 * up));
    // The last light of the day, low on the left.
    let d = vec2f((p.x - 0.26 * wide) * 0.62, (p.y - SHORE) * 1.5);
    let dusk = 1.0 / (1.0 + 16.0 * dot(d, d));
    c = between(c, vec3f(0.98, 0.40, 0.25), dusk * dusk);
    c = between(c, vec3f(1.0, 0.80, 0.42), dusk * dusk * dusk * dusk * dusk * 0.85);
    // Bars of cloud, lit from below.
    let cloud = swing(p.y * 6.5 + 0.30 * swing(p.x * 0.53 + settings.turn + 0.2) + 0.10 * swing(p.x * 1.7 - settings.turn));
    let bank = smoothstep(0.15, 0.95, cloud) * smoothstep(0.05, 0.35, up) * (1.0 - up);
    c = between(c, between(vec3f(0.10, 0.10, 0.24), vec3f(1.0, 0.45, 0.38), dusk), bank * 0.55);

    let cell = vec2i(floor(p / 0.045));
    let place = (vec2f(cell) + 0.15 + 0.7 * vec2f(drawn(cell.x, cell.y), drawn(cell.y, cell.x + 57))) * 0.045;
    let star = drawn(cell.x + 911, cell.y);
    let size = max(0.0015, 0.7 / f32(frame_size().y));
    // On a coarse frame a star takes a whole texel, and is dimmer for it.
    let shine = clamp(1.5 - distance(p, place) / size, 0.0, 1.0) * min(0.0024 / size, 1.0);
    c += shine * star * star * smoothstep(0.25, 0.8, up) * 0.85;

    // A young moon, its lit side towards the dusk.
    let moon = vec2f(0.62 * wide, 0.13);
    let crescent = max(distance(p, moon) - 0.040, 0.036 - distance(p, moon + vec2f(0.018, -0.013)));
    c += glow(p, moon, 0.22) * vec3f(0.16, 0.17, 0.15);
    return between(c, vec3f(1.0, 0.96, 0.84), cover(crescent));
}

// Hills, town and lighthouse on the far shore, with the sky above them.
fn far_shore(p: vec2f, wide: f32) -> vec3f {
    var c = sky(p, wide);
    let share = p.x / wide;
    let hills = SHORE - 0.045 - 0.075 * share - 0.028 * swing(p.x * 0.8 + 0.15) - 0.010 * swing(p.x * 2.6);
    c = between(c, vec3f(0.15, 0.12, 0.28), cover(hills - p.y));
    let nearer = SHORE - 0.020 - 0.035 * share - 0.016 * swing(p.x * 1.3 + 0.6) - 0.005 * swing(p.x * 5.0);
    c = between(c, vec3f(0.07, 0.07, 0.18), cover(nearer - p.y));

    // The town: two rows of houses, the nearer one lower and darker, both lit by lot.
    for (var line = 0; line < 2; line++) {
        let n = f32(line);
        let pitch = 0.062 - 0.012 * n;
        let from_left = p.x - (0.60 - 0.05 * n) * wide;
        let house = i32(floor(from_left / pitch));
        if house < 0 {
            continue;
        }
        let tall = (0.055 + 0.17 * drawn(house, 7 + line)) * (1.0 - 0.45 * n);
        let left = f32(house) * pitch;
        let inner = vec2f(from_left - left, SHORE - p.y);
        let inset = 0.006 * drawn(house, 3);
        let wall = block(inner, vec2f(inset, 0.0), vec2f(pitch - 0.002, tall));
        let tone = between(vec3f(0.10, 0.11, 0.22), vec3f(0.035, 0.04, 0.10), n);
        c = between(c, tone * (0.85 + 0.4 * drawn(house, 11)), cover(wall));
        let grid = vec2f(0.0150, 0.0195);
        let window = vec2i(floor(inner / grid));
        let pane = abs(fract(inner / grid) - 0.5) * grid - vec2f(0.0046, 0.0056);
        let lit = drawn(house * 31 + window.x, window.y * 17 + line);
        // Most panes are lamplight; some a cold screen, a few a rose lamp.
        let kind = drawn(house + 5 * window.x, window.y + 90);
        var light = between(vec3f(1.0, 0.62, 0.24), vec3f(1.0, 0.88, 0.56), fract(kind * 7.0));
        light = select(light, vec3f(0.30, 0.86, 0.94), kind > 0.80);
        light = select(light, vec3f(0.98, 0.35, 0.58), kind > 0.93);
        let inside = max(wall + 0.005, max(pane.x, pane.y));
        c = between(c, light, cover(inside) * step(0.50, lit) * (0.55 + 0.45 * lit));
    }

    // The lighthouse on its rock, left; its beam sweeps once a turn.
    let foot = vec2f(0.135 * wide, SHORE - 0.022);
    let lantern = foot - vec2f(0.0, 0.262);
    let beam = p - lantern;
    let sweep = swing(settings.turn * 2.0 + 0.2);
    let along = beam.x * sweep;
    let spread = abs(beam.y + 0.10 * beam.x) - 0.004 - 0.10 * abs(beam.x);
    let ray = clamp(0.5 - spread / (0.003 + 0.06 * abs(beam.x)), 0.0, 1.0) * step(0.0, along) * abs(sweep);
    c += ray * 0.40 * max(1.0 - abs(beam.x) / (0.75 * abs(sweep) + 0.05), 0.0) * vec3f(1.0, 0.92, 0.66);
    let rock = SHORE + 0.006 - p.y - 0.036 * (1.0 - (p.x - foot.x) * (p.x - foot.x) * 90.0) - 0.004 * swing(p.x * 19.0);
    let rise = foot.y - p.y;
    let half_width = 0.030 - 0.048 * rise;
    let tower = max(max(-rise, rise - 0.235), (abs(p.x - foot.x) - half_width) * 0.999);
    let band = abs(fract(rise / 0.094 + 0.25) - 0.5) < 0.25;
    let round = 0.55 + 0.45 * clamp(0.5 - (p.x - foot.x) / (2.0 * half_width), 0.0, 1.0);
    c = between(c, select(vec3f(0.93, 0.90, 0.88), VERMILION, band) * round, cover(tower));
    c = between(c, vec3f(0.05, 0.05, 0.10), cover(block(p - foot, vec2f(-0.026, -0.242), vec2f(0.026, -0.234))));
    c = between(c, vec3f(1.0, 0.93, 0.62), cover(block(p - foot, vec2f(-0.014, -0.279), vec2f(0.014, -0.242))));
    let cap = max(p.y - foot.y + 0.279, abs(p.x - foot.x) - 0.020 - (p.y - foot.y + 0.279) * 0.6);
    c = between(c, VERMILION * 0.8, cover(max(cap, -0.312 - (p.y - foot.y))));
    c += glow(p, lantern, 0.16) * vec3f(0.55, 0.42, 0.18);
    return between(c, vec3f(0.05, 0.045, 0.09), cover(rock));
}

struct Painted {
    colour: vec3f,
    cover: f32,
    glow: f32,
}

fn laid(below: Painted, colour: vec3f, outside: f32) -> Painted {
    let share = cover(outside);
    return Painted(between(below.colour, colour, share), max(below.cover, share), below.glow);
}

// A row of windows along a deck: the signed distance, and which window it is.
fn window_row(f: vec2f, centre_y: f32, pitch: f32, half_size: vec2f) -> f32 {
    return max(abs(fract(f.x / pitch) - 0.5) * pitch - half_size.x, abs(f.y - centre_y) - half_size.y);
}

// The ferry, bow to the right, `f` from the middle of her waterline; up is negative.
fn ferry(f: vec2f, small: f32) -> Painted {
    var c = Painted(vec3f(0.0), 0.0, 0.0);
    // Distances are in her own scale, and cover() wants frame heights.
    let side = 0.62 + 0.38 * clamp(-f.y / 0.22, 0.0, 1.0);
    let white = between(vec3f(0.98, 0.66, 0.58), vec3f(0.80, 0.86, 0.98), smoothstep(-0.40, 0.30, f.x)) * side;

    let slant = f.x + 0.20 - 0.22 * (f.y + 0.20);
    let funnel = max(max(-0.300 - f.y, f.y + 0.170), abs(slant) - 0.047);
    let stripe = abs(f.y + 0.243 + 0.45 * slant) < 0.017;
    let funnel_colour = select(select(vec3f(0.0, 0.50, 0.72), vec3f(1.0, 0.82, 0.20), stripe), vec3f(0.05, 0.05, 0.09), f.y < -0.280);
    c = laid(c, funnel_colour * (0.75 + 0.5 * clamp(0.5 - slant / 0.094, 0.0, 1.0)), funnel * small);
    let mast = block(f, vec2f(0.118, -0.345), vec2f(0.124, -0.20));
    c = laid(c, vec3f(0.30, 0.30, 0.38), mast * small);
    let bridge = max(block(f, vec2f(0.045, -0.232), vec2f(0.30, -0.180)), (f.x - 0.205 - 0.35 * (f.y + 0.232)) * 0.94);
    c = laid(c, white * 1.05, bridge * small);
    let bridge_pane = max(abs(f.y + 0.209) - 0.012, max(bridge + 0.008, 0.0065 - abs(fract(f.x / 0.032) - 0.5) * 0.032 - 0.002));
    c = laid(c, vec3f(0.30, 0.85, 0.92), bridge_pane * small);
    let upper = block(f, vec2f(-0.335, -0.182), vec2f(0.235, -0.134));
    c = laid(c, white, upper * small);
    let lower = block(f, vec2f(-0.385, -0.137), vec2f(0.295, -0.082));
    c = laid(c, white * 0.90, lower * small);
    c = laid(c, vec3f(0.16, 0.16, 0.26), block(f, vec2f(-0.395, -0.139), vec2f(0.305, -0.133)) * small);

    // Cabin windows, most of them lit.
    let high = max(window_row(f, -0.157, 0.030, vec2f(0.0095, 0.011)), max(upper + 0.010, f.x - 0.21));
    let low = max(window_row(f, -0.108, 0.036, vec2f(0.0130, 0.013)), max(lower + 0.010, -0.36 - f.x));
    let number = i32(floor(f.x / select(0.036, 0.030, f.y < -0.135)));
    let lit = drawn(number, select(1, 2, f.y < -0.135));
    let pane = select(between(vec3f(1.0, 0.66, 0.26), vec3f(1.0, 0.90, 0.58), fract(lit * 5.0)), vec3f(0.10, 0.13, 0.26), lit < 0.16);
    c = laid(c, pane, min(high, low) * small);

    // Hull: vermilion under a white line, a raked bow, an anchor light.
    let raked = (f.x - 0.355 + 0.62 * f.y) * 0.85;
    let sheer = -0.086 - 0.028 * smoothstep(0.18, 0.42, f.x) - f.y;
    let hull = max(max(f.y - 0.004, sheer), max(raked, -0.402 - f.x + 0.10 * f.y));
    let upright = clamp(-f.y / 0.09, 0.0, 1.0);
    c = laid(c, between(vec3f(0.035, 0.06, 0.16), vec3f(0.08, 0.17, 0.36), upright), hull * small);
    c = laid(c, VERMILION * 0.92, max(hull, -0.024 - f.y) * small);
    c = laid(c, vec3f(0.88, 0.90, 0.96), max(hull, abs(f.y + 0.067) - 0.0045) * small);
    let port = vec2f((fract(f.x / 0.046) - 0.5) * 0.046, f.y + 0.046);
    let ports = max(sqrt(dot(port, port)) - 0.0062, max(hull + 0.014, -0.322 - f.x));
    c = laid(c, LAMPLIGHT, ports * small);

    // A string of bulbs from bow to mast to stern, and the running lights.
    let bulb_x = (floor(f.x / 0.024) + 0.5) * 0.024;
    let fore = (bulb_x - 0.121) / 0.285;
    let aft = (0.121 - bulb_x) / 0.500;
    let t = select(aft, fore, fore > 0.0);
    let hung = -0.340 + t * select(0.185, 0.225, fore > 0.0) + 0.10 * t * (1.0 - t) * 1.4;
    let bulb = f - vec2f(bulb_x, hung);
    let tint = i32(floor(f.x / 0.024)) & 3;
    let bulb_colour = select(select(vec3f(1.0, 0.86, 0.5), vec3f(1.0, 0.42, 0.35), tint == 1), vec3f(0.35, 0.90, 0.80), tint == 3);
    if t >= 0.0 && t <= 1.0 {
        c = laid(c, bulb_colour, (sqrt(dot(bulb, bulb)) - 0.0042) * small);
    }
    c = laid(c, vec3f(1.0, 0.25, 0.20), (distance(f, vec2f(0.121, -0.348)) - 0.008) * small);
    c.glow = max(1.0 - max(block(f, vec2f(-0.36, -0.165), vec2f(0.26, -0.10)), 0.0) / 0.17, 0.0);
    c.glow = c.glow * c.glow * c.glow;
    return c;
}

// Where the quay begins, and where its lamps stand, as shares of the frame's width.
const QUAY_SHARE = 0.56;
const LAMP_STEP = 0.116;

fn lamp_share(lamp: i32) -> f32 {
    return 0.735 + LAMP_STEP * f32(lamp);
}

// The quay in front, low on the right, with its lamps.
fn quay(below: vec3f, p: vec2f, wide: f32) -> vec3f {
    var c = below;
    let edge = QUAY_SHARE * wide;
    let inland = p.x - edge;
    let top = 0.872 - 0.030 * inland;
    let stone = max(top - p.y, edge - p.x - 0.30 * (p.y - 0.872));
    if stone > 0.62 {
        return c;
    }
    // Top slabs in lamplight, then the wall in shade.
    let depth = p.y - top;
    let course = fract(depth / 0.052);
    let joint = fract(inland / 0.115 + select(0.0, 0.5, (i32(floor(depth / 0.052)) & 1) == 1));
    let seam = min(min(course, 1.0 - course) * 0.052, min(joint, 1.0 - joint) * 0.115);
    var ground = between(vec3f(0.11, 0.095, 0.13), vec3f(0.03, 0.03, 0.06), clamp(depth / 0.13, 0.0, 1.0));
    ground = between(ground * 0.55, ground, clamp(seam / 0.004, 0.0, 1.0));
    ground = between(vec3f(0.34, 0.25, 0.22), ground, clamp(depth / 0.010, 0.0, 1.0));
    for (var lamp = 0; lamp < 3; lamp++) {
        let foot = vec2f(wide * lamp_share(lamp), 0.868 - 0.030 * wide * (lamp_share(lamp) - QUAY_SHARE));
        let pool = vec2f((p.x - foot.x + 0.05) * 0.7, p.y - foot.y);
        ground += glow(pool, vec2f(0.0), 0.115) * vec3f(0.62, 0.40, 0.15) * clamp(seam / 0.004, 0.35, 1.0);
    }
    c = between(c, ground, cover(stone));

    for (var lamp = 0; lamp < 3; lamp++) {
        let n = f32(lamp);
        let x = wide * lamp_share(lamp);
        let foot = 0.872 - 0.030 * (x - edge);
        let tall = 0.30 + 0.035 * n;
        let q = vec2f(p.x - x, p.y - foot);
        let post = block(q, vec2f(-0.0048, -tall), vec2f(0.0048, 0.012));
        let arm = block(q, vec2f(-0.058, -tall - 0.006), vec2f(0.0048, -tall + 0.002));
        let base = block(q, vec2f(-0.012, -0.045), vec2f(0.012, 0.012));
        c = between(c, vec3f(0.035, 0.035, 0.06), cover(min(min(post, arm), base)));
        let head = q - vec2f(-0.058, -tall + 0.016);
        c += glow(head, vec2f(0.0), 0.20) * vec3f(0.48, 0.30, 0.10) + glow(head, vec2f(0.0), 0.07) * vec3f(0.45, 0.32, 0.16);
        c = between(c, vec3f(1.0, 0.93, 0.70), cover(sqrt(dot(head, head)) - 0.0155));
        let hood = max(head.y + 0.004, abs(head.x) - 0.018 - 0.4 * (head.y + 0.014));
        c = between(c, vec3f(0.035, 0.035, 0.06), cover(max(hood, -0.020 - head.y)));
    }
    // Bollards along the edge, half way between the lamps.
    let nth = (p.x / wide - lamp_share(0)) / LAMP_STEP;
    let near = vec2f((fract(nth) - 0.5) * LAMP_STEP * wide, p.y - top);
    let bollard = min(block(near, vec2f(-0.010, -0.032), vec2f(0.010, 0.004)), block(near, vec2f(-0.017, -0.040), vec2f(0.017, -0.030)));
    return between(c, vec3f(0.05, 0.045, 0.07), cover(max(bollard, edge + 0.02 - p.x)));
}

fn paint(at: vec2i) -> vec4f {
    let size = vec2f(frame_size());
    let wide = size.x / size.y;
    let p = (vec2f(at) + 0.5) / size.y;

    // Ripples: closer together towards the shore, wider in front.
    let depth = max(p.y - SHORE, 0.0);
    let row = 1.1 / (depth + 0.055);
    let ripple = 0.62 * swing(row + 5.0 * settings.turn + 0.35 * swing(p.x * 0.9))
        + 0.38 * swing(row * 2.7 - 7.0 * settings.turn + p.x * 1.3);
    let strength = 0.003 + 0.060 * depth;

    // Everything beyond the water, seen straight or in it.
    let in_water = p.y > SHORE;
    let mirrored = vec2f(p.x + ripple * strength, SHORE - depth * 1.22 + ripple * depth * 0.16);
    var c = far_shore(select(p, mirrored, in_water), wide);
    if in_water {
        let near = clamp(depth / (1.0 - SHORE), 0.0, 1.0);
        c = between(c * vec3f(0.72, 0.76, 0.86), vec3f(0.012, 0.045, 0.10), 0.18 + 0.50 * near);
        c += max(ripple, 0.0) * (0.015 + 0.035 * near) * vec3f(0.55, 0.75, 1.0);
        c = between(c, vec3f(0.45, 0.33, 0.42), 0.35 * clamp(1.0 - depth / 0.004, 0.0, 1.0));
    }

    // The ferry rides a little, and shows in the water under her.
    let scale = clamp(wide / 1.62, 0.05, 1.25);
    let middle = vec2f(wide * 0.415 + 0.02 * swing(settings.turn), WATERLINE + 0.0025 * swing(4.0 * settings.turn));
    let above = p.y < middle.y;
    let own_depth = p.y - middle.y;
    let broken = ripple * (0.004 + 0.075 * max(own_depth, 0.0));
    let seen = select(vec2f(p.x + broken, middle.y - own_depth * 1.05 + ripple * own_depth * 0.18), p, above);
    let ship = ferry((seen - middle) / scale, scale);
    let fade = select(0.66 * clamp(1.0 - own_depth / (0.40 * scale), 0.0, 1.0), 1.0, above);
    c += ship.glow * select(0.30, 0.22, above) * vec3f(0.85, 0.50, 0.22) * (1.0 - ship.cover);
    c = between(c, ship.colour * select(0.80, 1.0, above), ship.cover * fade);
    let wash = max(abs(own_depth - 0.002) - 0.0022, max(abs(p.x - middle.x + 0.02 * scale) - 0.41 * scale, 0.0) * 0.4);
    c = between(c, vec3f(0.62, 0.72, 0.82), 0.55 * cover(wash) * (0.6 + 0.4 * ripple));

    // A green buoy in front on the left, its light going on and off.
    let buoy = p - vec2f(0.115 * wide, 0.845 + 0.004 * swing(4.0 * settings.turn + 0.4));
    let float_body = max(max(buoy.y - 0.006, -0.050 - buoy.y), abs(buoy.x) - 0.026 - 0.34 * buoy.y);
    c = between(c, vec3f(0.02, 0.42, 0.30), cover(float_body));
    c = between(c, vec3f(0.80, 0.86, 0.84), cover(max(float_body, abs(buoy.y + 0.022) - 0.006)));
    let on = smoothstep(-0.35, 0.35, swing(8.0 * settings.turn + 0.15));
    let lamp = buoy - vec2f(0.0, -0.058);
    c += on * (glow(lamp, vec2f(0.0), 0.13) * vec3f(0.05, 0.48, 0.27)
        + glow(vec2f(buoy.x + 0.6 * broken + ripple * 0.010, (buoy.y - 0.075) * 0.45), vec2f(0.0), 0.045) * vec3f(0.05, 0.45, 0.26) * step(0.0, buoy.y));
    c = between(c, between(vec3f(0.05, 0.30, 0.20), vec3f(0.70, 1.0, 0.82), on), cover(sqrt(dot(lamp, lamp)) - 0.0095));

    return vec4f(quay(c, p, wide), 1.0);
}
