// 128 bits that stand for a finished picture's bytes. Every texel's value and
// place are mixed to two 32-bit words (the finaliser of MurmurHash3, public
// domain) and summed in four ways: sums do not depend on who adds first, so every
// adapter gives the same bits. Equal pictures are always equal; different ones
// differ but for a chance of about 1 in 2^64.

@group(0) @binding(2) var<storage, read_write> sums: array<atomic<u32>>;
@group(0) @binding(3) var<storage, read> jobs: array<Job>;

var<workgroup> partial: array<atomic<u32>, 4>;

fn stirred(value: u32) -> u32 {
    var h = value;
    h = (h ^ (h >> 16u)) * 0x85ebca6bu;
    h = (h ^ (h >> 13u)) * 0xc2b2ae35u;
    return h ^ (h >> 16u);
}

// What a texel adds that is given out like this; nothing below the last row.
fn stirred_in(at: vec2i, given_out: vec4f) -> vec4u {
    let size = frame_size();
    if at.y >= size.y {
        return vec4u(0u);
    }
    let bytes = vec4u(given_out * 255.0 + 0.5);
    let word = bytes.r | (bytes.g << 8u) | (bytes.b << 16u) | (bytes.a << 24u);
    let place = u32(at.y * size.x + at.x);
    let a = stirred(word ^ stirred(place + 0x9e3779b9u));
    let b = stirred(word + stirred(place ^ 0x7f4a7c15u));
    return vec4u(a, b, a * (b | 1u), (a ^ 0x2545f491u) * ((b << 1u) | 1u));
}

// Each invocation takes one column of a band of rows, as `band` sums it.
const BAND_ROWS = 32;

@compute @workgroup_size(64, 1)
fn fingerprint_main(
    @builtin(global_invocation_id) id: vec3u,
    @builtin(local_invocation_index) local: u32,
) {
    let job = jobs[id.z];
    take_settings(job);
    layer = job.from_layer;
    var sum = vec4u(0u);
    if i32(id.x) < frame_size().x {
        sum = band(vec2i(i32(id.x), i32(id.y) * BAND_ROWS));
    }
    for (var lane = 0u; lane < 4u; lane++) {
        atomicAdd(&partial[lane], sum[lane]);
    }
    workgroupBarrier();
    if local < 4u {
        atomicAdd(&sums[job.into_layer * 4u + local], atomicLoad(&partial[local]));
    }
}
