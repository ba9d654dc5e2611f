// Means of whole numbers, how far they are apart, and what a workgroup sums of that.

struct Settings {
    width: u32,
    height: u32,
    // Where the sums begin, in words.
    sums: u32,
    unused: u32,
}

@group(0) @binding(0) var picture: texture_2d_array<f32>;
@group(0) @binding(1) var<uniform> settings: Settings;
@group(0) @binding(2) var<storage, read_write> figures: array<i32>;

// What one of the sums holds for a texel.
fn sum_at(column: u32, x: u32, y: u32) -> vec3i {
    let at = settings.sums + ((column * settings.height + y) * settings.width + x) * 3u;
    return vec3i(figures[at], figures[at + 1u], figures[at + 2u]);
}

// Each invocation takes one column of a band of rows.
const BAND_ROWS = 32u;

// A mean less another, each a sum over its weight, in parts of L*a*b*. Whole parts are taken off first, so that equal
// means are no distance apart and near ones lose nothing.
fn apart(one: vec3i, one_weight: u32, other: vec3i, other_weight: u32) -> vec3f {
    let a = i32(one_weight);
    let b = i32(other_weight);
    let p = one / a;
    let q = other / b;
    return vec3f(p - q) + vec3f(one - p * a) / f32(a) - vec3f(other - q * b) / f32(b);
}

fn squared(v: vec3f) -> f32 {
    return v.x * v.x + v.y * v.y + v.z * v.z;
}

var<workgroup> parts: array<f32, 64>;

// The sum over a workgroup of 64, always in the same order.
fn summed(value: f32, local: u32) -> f32 {
    parts[local] = value;
    for (var half = 32u; half > 0u; half /= 2u) {
        workgroupBarrier();
        if local < half {
            parts[local] += parts[local + half];
        }
    }
    workgroupBarrier();
    return parts[0];
}

// Leaves what a workgroup sums among the parts of an answer, which begin at a word.
fn leave(squares: f32, into: u32, group: vec3u, groups: vec3u, local: u32) {
    let all = summed(squares, local);
    if local == 0u {
        figures[into + group.y * groups.x + group.x] = bitcast<i32>(all);
    }
}
