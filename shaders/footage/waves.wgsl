//! summary = "A night sea: swell rolling towards the shore, with the moon on it."
//! reach = "source"
//!
//! [[derived]]
//! name = "turn"
//! kind = "turn"
//! from = { rate = 0.0625, phase = 0.0 }

struct Settings {
    turn: f32,
}

const HORIZON = 0.34;
const MOON_RADIUS = 0.062;
const MOONLIGHT = vec3f(1.0, 0.94, 0.78);
const ROWS = 13;

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

fn sky(p: vec2f, moon: vec2f, texel: f32) -> vec3f {
    let low = clamp(p.y / HORIZON, 0.0, 1.0);
    var c = between(vec3f(0.015, 0.03, 0.10), vec3f(0.16, 0.25, 0.42), low * low);
    let cell = vec2i(floor(p / 0.05));
    let place = (vec2f(cell) + 0.15 + 0.7 * vec2f(drawn(cell.x, cell.y), drawn(cell.y, cell.x + 57))) * 0.05;
    let star = drawn(cell.x + 911, cell.y);
    let reach = max(0.0016, 0.7 * texel);
    // On a coarse frame a star takes a whole texel, and is dimmer for it.
    let shine = clamp(1.5 - distance(p, place) / reach, 0.0, 1.0) * min(0.0024 / reach, 1.0);
    c += shine * star * star * (1.0 - low) * vec3f(0.8, 0.87, 1.0);

    let far = distance(p, moon);
    let halo = MOON_RADIUS / max(far, MOON_RADIUS);
    c += halo * halo * vec3f(0.30, 0.31, 0.30);
    // Thin cloud drawn across the sky, lit where the moon is near.
    let cloud = swing(p.y * 7.0 + 0.22 * swing(p.x * 0.7 + settings.turn) + 0.1 * swing(p.x * 1.9 - settings.turn));
    c += max(cloud, 0.0) * (0.02 + 0.12 * halo) * vec3f(0.75, 0.85, 1.0);
    // The disc is a little darker away from where the sun is, low on the left.
    let shade = 0.10 * smoothstep(-1.0, 1.4, dot(p - moon, vec2f(0.8, -0.6)) / MOON_RADIUS);
    return between(c, MOONLIGHT * (1.0 - shade), clamp(0.5 - (far - MOON_RADIUS) / texel, 0.0, 1.0));
}

fn paint(at: vec2i) -> vec4f {
    let size = vec2f(frame_size());
    let texel = 1.0 / size.y;
    let p = (vec2f(at) + 0.5) * texel;
    let moon = vec2f(0.70 * size.x * texel, 0.135);
    var c = sky(p, moon, texel);

    // One row of swell after the other, from the horizon to the shore.
    for (var row = 0; row < ROWS; row++) {
        let near = f32(row) / f32(ROWS - 1);
        let height = 0.0012 + 0.030 * near * near;
        let length = 0.10 + 0.85 * near;
        let shift = f32(row) * 0.381966;
        let along = p.x / length + shift;
        // Crests are steep, troughs wide; the slow part heaves the whole row.
        let swell = swing(along + 2.0 * settings.turn);
        let crest = HORIZON + 0.60 * near * (0.30 + 0.70 * near)
            - height * (0.7 * swell * abs(swell) + 0.35 * swing(along * 2.7 - 3.0 * settings.turn))
            - 0.4 * height * swing(settings.turn * 2.0 + shift * 2.0);
        let below = p.y - crest;
        let thick = 0.012 + 0.14 * near;
        let deep = clamp(below / thick, 0.0, 1.0);
        let lit = between(vec3f(0.13, 0.27, 0.42), vec3f(0.05, 0.27, 0.36), near);
        let dark = between(vec3f(0.05, 0.12, 0.24), vec3f(0.01, 0.045, 0.10), near);
        var water = between(lit, dark, deep * (2.0 - deep));

        // Moonlight: a rim on each crest, and short glints under it, near the moon's column.
        let aside = abs(p.x - moon.x) / (0.075 + 0.34 * near);
        let column = clamp(1.0 - aside, 0.0, 1.0);
        let rim = clamp(1.0 - below / (0.0025 + 0.007 * near), 0.0, 1.0);
        water += rim * rim * (0.10 + 0.9 * column) * MOONLIGHT * 0.7;
        let glint = vec2f(p.x / (0.018 + 0.055 * near), below / (0.0035 + 0.011 * near));
        let line = i32(floor(glint.y));
        let slid = glint.x + drawn(line, row) * 5.0;
        let cell = i32(floor(slid));
        let blink = swing(4.0 * settings.turn + drawn(cell + 71 * line, row + 31));
        let dash = clamp(1.0 - abs(fract(slid) * 2.0 - 1.0), 0.0, 1.0) * clamp(2.0 - 4.0 * abs(fract(glint.y) - 0.5), 0.0, 1.0);
        water += max(blink, 0.0) * dash * column * column * (1.0 - 0.75 * deep) * MOONLIGHT * 0.95;
        c = between(c, water, clamp(0.5 + below / texel, 0.0, 1.0));
    }
    return vec4f(c, 1.0);
}
