//! summary = "Steel lattice against an evening sky: lines in every direction, sliding slowly by."
//! reach = "source"
//!
//! [[derived]]
//! name = "turn"
//! kind = "turn"
//! from = { rate = 0.0625, phase = 0.0 }

struct Settings {
    turn: f32,
}

// Distance across a line that runs along `along` through the origin and repeats every `every`.
fn off_line(across: f32, every: f32) -> f32 {
    return abs(fract(across / every + 0.5) - 0.5) * every;
}

// One truss, its panel 1 wide and 1 high; the signed distance to its steel.
fn truss(q: vec2f, half_width: f32) -> vec4f {
    let upright = off_line(q.x, 1.0) - half_width * 1.2;
    let chord = off_line(q.y, 1.0) - half_width * 1.6;
    // One full diagonal a panel, and a thinner one that meets it in every other panel.
    let panel = i32(floor(q.x)) & 1;
    let slope = select(q.x - q.y, q.x + q.y, panel == 1);
    let diagonal = off_line(slope, 1.0) * 0.7071068 - half_width;
    let stay = off_line(q.x * 2.0 + q.y, 2.0) * 0.4472136 - half_width * 0.45;
    return vec4f(upright, chord, diagonal, stay);
}

fn paint(at: vec2i) -> vec4f {
    let size = vec2f(frame_size());
    let texel = 1.0 / size.y;
    let p = (vec2f(at) + 0.5) * texel;
    let share = (vec2f(at) + 0.5) / size;

    // Evening: warm low on the right, cold above on the left.
    let warm = smoothstep(0.15, 1.15, 0.55 * share.x + 0.65 * share.y);
    var c = between(vec3f(0.07, 0.16, 0.36), vec3f(0.98, 0.56, 0.26), warm);
    c = between(c, vec3f(0.86, 0.30, 0.42), 4.0 * warm * (1.0 - warm) * 0.45);
    let sun = distance(p, vec2f(0.76 * size.x * texel, 0.70));
    c = between(c, vec3f(1.0, 0.88, 0.55), clamp(0.5 - (sun - 0.13) / texel, 0.0, 1.0));
    c += 0.35 * 0.0169 / max(sun * sun, 0.0169) * vec3f(0.8, 0.45, 0.15) * (1.0 - clamp(0.5 - (sun - 0.13) / texel, 0.0, 1.0));

    // Far steel first: smaller, paler, and it slides half as fast.
    for (var depth = 0; depth < 2; depth++) {
        let near = f32(depth);
        let panel = 0.20 + 0.22 * near;
        let lean = vec2f(p.x + 0.18 * p.y, p.y - 0.12 * p.x);
        let slid = lean + vec2f(panel * 2.0 * settings.turn * (1.0 + near), 0.09 + 0.05 * near);
        let steel = truss(slid / panel, 0.026 + 0.012 * near) * panel;
        let colour = between(vec3f(0.20, 0.17, 0.33), vec3f(0.035, 0.045, 0.09), near);
        // Thin steel first, so that chords and uprights lie over it; each has a lit upper edge.
        let parts = array<f32, 4>(steel.w, steel.z, steel.x, steel.y);
        for (var part = 0; part < 4; part++) {
            let edge = clamp(1.0 + parts[part] / (0.0045 + 0.004 * near), 0.0, 1.0);
            let shade = between(colour, c, 0.25 + 0.10 * near);
            let body = between(colour, shade, edge * edge * 0.9);
            c = between(c, body, clamp(0.5 - parts[part] / texel, 0.0, 1.0));
        }
        // A plate with a bright bolt where chord and upright meet.
        let joint = vec2f(off_line(slid.x, panel), off_line(slid.y, panel));
        let plate = max(max(joint.x, joint.y), (joint.x + joint.y) * 0.7071068) - panel * 0.085;
        c = between(c, colour * 1.35, clamp(0.5 - plate / texel, 0.0, 1.0));
        let bolt = sqrt(dot(joint, joint)) - panel * 0.026;
        c = between(c, between(vec3f(0.45, 0.38, 0.55), vec3f(0.95, 0.74, 0.36), near), clamp(0.5 - bolt / texel, 0.0, 1.0));
    }
    return vec4f(c, 1.0);
}
