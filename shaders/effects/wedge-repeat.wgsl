//! summary = "Repeats one slice of the picture round the centre, mirrored so that no seam shows."
//! also = ["kaleidoscope", "mirror tiles", "mandala", "rosette", "snowflake", "radial symmetry"]
//! does = "moves pixels round the centre"
//! reach = "move"
//! channels = "together"
//! position = "matters"
//!
//! [[setting]]
//! name = "wedges"
//! label = "Wedges"
//! help = "How many times the slice stands round the centre, each time with its mirror image."
//! kind = "whole"
//! unit = "wedges"
//! range = [2, 24]
//! default = 6
//!
//! [[setting]]
//! name = "turn"
//! label = "Turn"
//! help = "Where the slice is cut: from 0, right, by way of 90, down. Move it and everything moves."
//! kind = "number"
//! unit = "degrees"
//! range = [-360.0, 360.0]
//! default = 0.0

struct Settings {
    wedges: i32,
    turn: f32,
}

// Arcs are whole numbers of 1/32768 degree and all arithmetic is on whole
// numbers, so that every adapter takes the same texels.
const DEGREE = 32768;
const TURN = 360 * DEGREE;
const QUARTER = 90 * DEGREE;

// CORDIC (Volder 1959): turns by the arcs whose tangents are 1, 1/2, 1/4, ...
// need only shifts and sums.
const ARCS = array(
    1474560, 870484, 459940, 233473, 117189, 58652, 29333, 14667, 7334, 3667,
    1833, 917, 458, 229, 115, 57, 29, 14, 7, 4,
);
// Whole numbers are held this finely while they turn; the turns lengthen them 1.64676 times.
const FINENESS = 32768;
const SHORTENED = 19898;

// The same arc from 0 to TURN; `arc` is -2 turns or more. (What GL makes of the
// remainder of a negative number is left open.)
fn wrapped(arc: i32) -> i32 {
    return (arc + 2 * TURN) % TURN;
}

// The arc at which `p` stands, from right by way of down: 0 to TURN.
fn arc_of(p: vec2i) -> i32 {
    var arcs = ARCS;
    let across = abs(p) * (FINENESS / 2);
    var x = max(across.x, across.y);
    var y = min(across.x, across.y);
    var arc = 0;
    for (var i = 0u; i < 20u && y != 0; i++) {
        let side = sign(y);
        let longer = x + side * (y >> i);
        y -= side * (x >> i);
        x = longer;
        arc += side * arcs[i];
    }
    arc = select(arc, QUARTER - arc, across.y > across.x);
    arc = select(arc, 2 * QUARTER - arc, p.x < 0);
    return wrapped(select(arc, -arc, p.y < 0));
}

// `p` turned by `arc`, FINENESS times as long.
fn turned(p: vec2i, arc: i32) -> vec2i {
    var arcs = ARCS;
    let quarters = (arc + QUARTER / 2) / QUARTER;
    var left = arc - quarters * QUARTER;
    var q = p * SHORTENED;
    switch quarters & 3 {
        case 1: { q = vec2i(-q.y, q.x); }
        case 2: { q = -q; }
        case 3: { q = vec2i(q.y, -q.x); }
        default: {}
    }
    for (var i = 0u; i < 20u; i++) {
        let side = select(-1, 1, left >= 0);
        q += side * vec2i(-(q.y >> i), q.x >> i);
        left -= side * arcs[i];
    }
    return q;
}

// Past the border the picture comes back, as in a mirror.
fn bounced(at: vec2i, size: vec2i) -> vec2i {
    let within = select(at, -1 - at, at < vec2i(0)) % (2 * size);
    return min(within, 2 * size - 1 - within);
}

fn source(at: vec2i) -> vec2i {
    let size = frame_size();
    // Twice the way from the centre, which is whole.
    let p = 2 * at + 1 - size;
    let turn = i32(settings.turn * f32(DEGREE));
    let arc = wrapped(arc_of(p) - turn);
    let within = arc * settings.wedges % TURN;
    var q: vec2i;
    if within <= TURN - within {
        q = turned(p, wrapped(within / settings.wedges - arc));
    } else {
        // The mirror image of the slice: `p` reflected, then turned into it.
        q = turned(vec2i(p.x, -p.y), wrapped((TURN - within) / settings.wedges + arc + 2 * turn));
    }
    return bounced((q + size * FINENESS) >> vec2u(16u), size);
}
