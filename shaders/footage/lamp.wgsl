//! summary = "One warm lamp drifting over dark water."
//! reach = "source"
//!
//! [[derived]]
//! name = "turn"
//! kind = "turn"
//! from = { rate = 0.0625, phase = 0.0 }

struct Settings {
    turn: f32,
}

const WATER = 0.74;
const RADIUS = 0.135;

// A sine's shape out of two parabolas: period 1, from -1 to 1.
fn swing(t: f32) -> f32 {
    let s = fract(t) * 2.0 - 1.0;
    return 4.0 * s * (1.0 - abs(s));
}

// The lamp and its light, seen from `p`.
fn lamp(p: vec2f, centre: vec2f, texel: f32, softness: f32) -> vec3f {
    let apart = p - centre;
    let far = sqrt(dot(apart, apart));
    let near = RADIUS / max(far, RADIUS);
    let halo = near * near * (0.35 + 0.65 * near);
    var c = vec3f(0.62, 0.25, 0.07) * halo + vec3f(0.10, 0.045, 0.05) * near;
    // Brightest a little above the middle on the left, amber at the rim.
    let aside = apart + vec2f(0.028, 0.034);
    let ripe = clamp(dot(aside, aside) / (RADIUS * RADIUS * 1.5), 0.0, 1.0);
    let glass = between(vec3f(1.0, 0.96, 0.80), vec3f(1.0, 0.60, 0.17), ripe);
    c = between(c, glass, clamp(0.5 - (far - RADIUS) / max(texel, softness), 0.0, 1.0));
    return c;
}

fn paint(at: vec2i) -> vec4f {
    let size = vec2f(frame_size());
    let texel = 1.0 / size.y;
    let p = (vec2f(at) + 0.5) * texel;
    let wide = size.x * texel;
    let centre = vec2f(
        wide * (0.40 + 0.13 * swing(settings.turn)),
        0.36 + 0.035 * swing(2.0 * settings.turn + 0.25),
    );
    let night = between(vec3f(0.012, 0.018, 0.05), vec3f(0.04, 0.06, 0.13), clamp(p.y / WATER, 0.0, 1.0));
    if p.y < WATER {
        return vec4f(night + lamp(p, centre, texel, 0.0), 1.0);
    }
    // The water shows the lamp again, drawn out downwards and broken by ripples.
    let depth = p.y - WATER;
    let row = 0.9 / (depth + 0.06);
    let ripple = swing(row + 6.0 * settings.turn) + 0.6 * swing(row * 2.3 + p.x * 1.7 - 4.0 * settings.turn);
    let seen = vec2f(p.x + ripple * (0.006 + 0.14 * depth), WATER - depth * 1.9 + ripple * 0.05 * depth - 0.08);
    let water = between(vec3f(0.03, 0.05, 0.11), vec3f(0.006, 0.01, 0.03), clamp(depth / (1.0 - WATER), 0.0, 1.0));
    let line = clamp(1.0 - depth / 0.004, 0.0, 1.0) * 0.05;
    let sheen = max(ripple, 0.0) * 0.02;
    return vec4f(water + line + sheen * vec3f(0.5, 0.6, 1.0) + vec3f(0.80, 0.60, 0.42) * lamp(seen, centre, texel, 0.02), 1.0);
}
