//! summary = "A mark to lie over a picture, in its corner: a ship over waves in a ring, on nothing."
//! reach = "source"
//! opaque = false

struct Settings {
    none: u32,
}

const NAVY = vec3f(0.04, 0.13, 0.30);
const SKY = vec3f(0.98, 0.76, 0.20);
const SAIL_WHITE = vec3f(0.98, 0.97, 0.93);
const SIGNAL_RED = vec3f(0.88, 0.20, 0.13);
const SEA = vec3f(0.05, 0.47, 0.62);

// A sine's shape out of two parabolas: period 1, from -1 to 1.
fn swing(t: f32) -> f32 {
    let s = fract(t) * 2.0 - 1.0;
    return 4.0 * s * (1.0 - abs(s));
}

fn block(p: vec2f, low: vec2f, high: vec2f) -> f32 {
    return max(max(low.x - p.x, p.x - high.x), max(low.y - p.y, p.y - high.y));
}

fn paint(at: vec2i) -> vec4f {
    let size = vec2f(frame_size());
    // The mark is 2 across in its own unit and stands in the lower right corner, where signs spare the picture.
    let side = min(size.x, size.y);
    let scale = 2.0 / (0.36 * side);
    let p = (vec2f(at) + 0.5 - (size - 0.24 * side)) * scale;
    let r = sqrt(dot(p, p));
    var c = SKY;

    // A sun half risen behind the bow: rays of a paler yellow.
    let sun = distance(p, vec2f(0.30, 0.12));
    c = between(c, vec3f(1.0, 0.88, 0.52), clamp(0.5 - (sun - 0.46) / scale, 0.0, 1.0));
    c = between(c, SIGNAL_RED, clamp(0.5 - (sun - 0.27) / scale, 0.0, 1.0));

    // The ship: raked bow to the right, house and funnel aft, a pennant on the mast.
    let hull = max(max(p.y - 0.34, 0.03 - p.y), max((p.x + 0.72 * p.y - 0.66) * 0.81, (-0.60 - p.x + 0.35 * p.y) * 0.94));
    let sheer = max(max(p.y - 0.04, -0.045 - p.y + 0.10 * (0.62 - p.x)), max((p.x + 0.72 * p.y - 0.66) * 0.81, 0.20 - p.x));
    let house = block(p, vec2f(-0.50, -0.17), vec2f(0.10, 0.04));
    let upper = block(p, vec2f(-0.42, -0.31), vec2f(-0.02, -0.16));
    let funnel = max(block(p, vec2f(-0.60, -0.58), vec2f(0.0, -0.30)), abs(p.x + 0.26 - 0.12 * p.y) - 0.085);
    let mast = block(p, vec2f(0.018, -0.66), vec2f(0.045, -0.16));
    let pennant = max(max(0.045 - p.x, p.x - 0.30), abs(p.y + 0.60) - 0.075 * (0.30 - p.x) / 0.255);
    c = between(c, SIGNAL_RED, clamp(0.5 - pennant / scale, 0.0, 1.0));
    c = between(c, NAVY, clamp(0.5 - mast / scale, 0.0, 1.0));
    let band = abs(p.y + 0.47) < 0.055;
    c = between(c, select(NAVY, SAIL_WHITE, band), clamp(0.5 - funnel / scale, 0.0, 1.0));
    c = between(c, SAIL_WHITE, clamp(0.5 - min(house, upper) / scale, 0.0, 1.0));
    let pane = abs(fract((p.x + 0.50) / 0.12) - 0.5) * 0.12 - 0.033;
    let panes = max(pane, min(max(abs(p.y + 0.075) - 0.036, house + 0.02), max(abs(p.y + 0.235) - 0.03, upper + 0.02)));
    c = between(c, NAVY, clamp(0.5 - panes / scale, 0.0, 1.0));
    c = between(c, NAVY, clamp(0.5 - min(hull, sheer) / scale, 0.0, 1.0));
    c = between(c, SAIL_WHITE, clamp(0.5 - max(hull + 0.02, abs(p.y - 0.11) - 0.018) / scale, 0.0, 1.0));

    // Three rows of waves, each a step out of line with the one before.
    for (var row = 0; row < 3; row++) {
        let n = f32(row);
        let crest = 0.27 + 0.17 * n + 0.045 * swing(p.x * 2.1 + 0.30 * n + 0.1);
        let colour = select(select(SEA, SAIL_WHITE, row == 1), NAVY, row == 2);
        c = between(c, colour, clamp(0.5 + (p.y - crest) / scale, 0.0, 1.0));
    }

    // The ring: white, navy, white.
    c = between(c, SAIL_WHITE, clamp(0.5 + (r - 0.80) / scale, 0.0, 1.0));
    c = between(c, NAVY, clamp(0.5 + (r - 0.83) / scale, 0.0, 1.0));
    c = between(c, SAIL_WHITE, clamp(0.5 + (r - 0.965) / scale, 0.0, 1.0));
    // Two studs on the ring, left and right, set a little low.
    let studs = sqrt(dot(vec2f(abs(p.x) - 0.883, p.y - 0.16), vec2f(abs(p.x) - 0.883, p.y - 0.16))) - 0.038;
    c = between(c, SKY, clamp(0.5 - studs / scale, 0.0, 1.0));
    return vec4f(c, clamp(0.5 - (r - 1.0) / scale, 0.0, 1.0));
}
