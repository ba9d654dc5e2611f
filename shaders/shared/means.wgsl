// Means of whole numbers, how far they are apart, and what a workgroup sums of that.

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
