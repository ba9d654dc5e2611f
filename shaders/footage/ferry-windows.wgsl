//! summary = "A ferry's side close up: three rows of lit windows passing, one window a beat."
//! reach = "source"
//!
//! [[derived]]
//! name = "turn"
//! kind = "turn"
//! from = { rate = 0.0625, phase = 0.0 }

struct Settings {
    turn: f32,
}

// Windows along the ship before they repeat: one turn moves her on by as many.
const WINDOWS = 16;
const PITCH = 0.235;

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

fn cover(outside: f32) -> f32 {
    return clamp(0.5 - outside * f32(frame_size().y), 0.0, 1.0);
}

// A block with rounded corners, round the origin.
fn rounded(p: vec2f, half_size: vec2f, radius: f32) -> f32 {
    let d = abs(p) - half_size + radius;
    let out = max(d, vec2f(0.0));
    return sqrt(dot(out, out)) + min(max(d.x, d.y), 0.0) - radius;
}

// What is behind one pane: `q` from its middle, `number` along the ship, `deck` from the top.
fn cabin(q: vec2f, half_size: vec2f, number: i32, deck: i32) -> vec3f {
    let lot = drawn(number, deck);
    let other = drawn(number + 40, deck + 9);
    let share = q / half_size;
    var wall = between(vec3f(1.0, 0.84, 0.46), vec3f(0.96, 0.52, 0.18), clamp(0.5 + 0.5 * share.y, 0.0, 1.0));
    wall = select(wall, between(vec3f(0.45, 0.90, 0.92), vec3f(0.08, 0.46, 0.62), clamp(0.5 + 0.5 * share.y, 0.0, 1.0)), lot > 0.80);
    wall = select(wall, between(vec3f(1.0, 0.56, 0.62), vec3f(0.72, 0.16, 0.34), clamp(0.5 + 0.5 * share.y, 0.0, 1.0)), lot < 0.10);
    // A ceiling lamp, off the middle.
    let lamp = (q - half_size * vec2f(0.9 * other - 0.45, -0.72)) / half_size.y;
    wall += 0.45 * max(1.0 - 1.6 * dot(lamp, lamp), 0.0);
    let shade = vec3f(0.16, 0.07, 0.09);
    if other < 0.34 {
        // Someone at the window.
        let seat = q - half_size * vec2f(1.2 * lot - 0.75, 0.18);
        let head = sqrt(dot(seat, seat)) - 0.24 * half_size.y;
        let trunk = seat - vec2f(0.0, 0.86 * half_size.y);
        let shoulders = rounded(trunk, half_size.y * vec2f(0.46, 0.56), 0.30 * half_size.y);
        wall = between(wall, shade, cover(min(head, shoulders)) * 0.92);
    } else if other < 0.60 {
        // Curtains, drawn back unevenly.
        let edge = abs(share.x + 0.16) - 0.52 + 0.16 * share.y * share.y;
        let fold = 0.80 + 0.20 * swing(share.x * 4.0);
        wall = between(wall, vec3f(0.80, 0.22, 0.14) * fold, cover(-edge * half_size.x));
    } else if other < 0.76 {
        // A blind, half way down.
        let slats = 0.78 + 0.22 * step(0.35, fract(share.y * 3.5));
        wall = between(wall, vec3f(0.93, 0.80, 0.58) * slats, cover(q.y + half_size.y * (0.9 * lot - 0.4)));
    } else if other > 0.94 {
        return vec3f(0.055, 0.08, 0.17) + 0.10 * clamp(0.4 - share.x - share.y, 0.0, 1.0);
    }
    // A table's edge along the bottom of the day cabins.
    return between(wall, shade, cover(half_size.y * 0.80 - q.y) * 0.7);
}

fn side(p: vec2f, along: f32) -> vec3f {
    // Painted steel: white above, navy below, lit by the windows and shaded towards the water.
    let white = between(vec3f(0.60, 0.66, 0.80), vec3f(0.34, 0.36, 0.52), clamp(p.y / 0.66, 0.0, 1.0));
    var c = between(white, vec3f(0.03, 0.07, 0.18), cover(0.655 - p.y));
    c = between(c, vec3f(0.90, 0.24, 0.12), cover(abs(p.y - 0.676) - 0.013));
    // Plates, and a rail along each deck.
    let seam = abs(fract(along / (PITCH * 2.0) + 0.25) - 0.5) * PITCH * 2.0;
    c *= 1.0 - 0.22 * cover(seam - 0.0016) * step(0.03, p.y);

    for (var deck = 0; deck < 3; deck++) {
        let level = f32(deck);
        let pitch = PITCH;
        let half_size = select(vec2f(0.086, 0.066), vec2f(0.052, 0.052), deck == 2);
        let middle = select(0.155 + 0.265 * level, 0.790, deck == 2);
        let step_along = along / pitch + 0.37 * level;
        let number = i32(floor(step_along));
        // Remainders of negative whole numbers are left open by GL.
        let wrapped = number - WINDOWS * i32(floor(f32(number) / f32(WINDOWS)));
        let q = vec2f((fract(step_along) - 0.5) * pitch, p.y - middle);
        let corner = select(0.022, 0.052, deck == 2);
        let pane = rounded(q, half_size, corner);
        // The light that the pane throws on the steel around it.
        let thrown = max(1.0 - max(pane, 0.0) / 0.075, 0.0);
        c += thrown * thrown * 0.20 * vec3f(1.0, 0.62, 0.26);
        c = between(c, select(vec3f(0.16, 0.17, 0.26), vec3f(0.72, 0.56, 0.28), deck == 2), cover(pane - 0.011));
        c = between(c, vec3f(0.03, 0.03, 0.06), cover(pane - 0.003));
        c = between(c, cabin(q, half_size, wrapped, deck), cover(pane));
        let glare = abs(q.x + 0.75 * q.y + 0.35 * half_size.x) - 0.10 * half_size.x;
        c += 0.13 * cover(max(glare, pane + 0.004));
    }
    c = between(c, vec3f(0.86, 0.89, 0.96), cover(abs(p.y - 0.287) - 0.008));
    c = between(c, vec3f(0.12, 0.12, 0.22), cover(abs(p.y - 0.299) - 0.004));
    let rivet = vec2f((fract(along / 0.047) - 0.5) * 0.047, p.y - 0.628);
    c = between(c, vec3f(0.20, 0.21, 0.34), cover(sqrt(dot(rivet, rivet)) - 0.0046));
    // The rail against the night at the very top.
    let night = vec3f(0.02, 0.03, 0.09);
    let post = abs(fract(along / 0.1175) - 0.5) * 0.1175 - 0.0035;
    let rail = min(min(abs(p.y - 0.012) - 0.005, abs(p.y - 0.034) - 0.0025), post);
    let above = between(night, vec3f(0.78, 0.82, 0.92), cover(rail));
    return between(c, above, cover(p.y - 0.058));
}

fn paint(at: vec2i) -> vec4f {
    let size = vec2f(frame_size());
    let p = (vec2f(at) + 0.5) / size.y;
    let sailed = settings.turn * f32(WINDOWS) * PITCH;
    let waterline = 0.885;
    let in_air = p.y < waterline;
    // The side again in the water, and the wash running past.
    let depth = p.y - waterline;
    let ripple = swing(depth * 19.0 + 0.4 * swing(p.x * 0.8 + settings.turn * 2.0) - 3.0 * settings.turn);
    let seen = vec2f(p.x + ripple * (0.012 + 0.16 * depth), waterline - depth * 2.6 - 0.010);
    // Once for both: a processor would work out both for every texel.
    let looked_at = select(seen, p, in_air);
    let ship = side(looked_at, looked_at.x + sailed);
    if in_air {
        return vec4f(ship, 1.0);
    }
    var c = ship * vec3f(0.50, 0.56, 0.68);
    c = between(c, vec3f(0.01, 0.05, 0.11), 0.25 + 4.0 * depth);
    let foam = depth - 0.010 - 0.007 * swing(p.x * 2.9 + 5.0 * settings.turn) - 0.004 * swing(p.x * 7.0 + 26.0 * settings.turn);
    c = between(c, vec3f(0.74, 0.84, 0.90), cover(foam) * 0.85);
    return vec4f(c + max(ripple, 0.0) * 0.03, 1.0);
}
