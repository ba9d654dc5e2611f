// 128 bits that stand for a finished picture's bytes. Every texel's value and
// place are mixed to two 32-bit words (the finaliser of MurmurHash3, public
// domain) and summed in four ways: sums do not depend on who adds first, so every
// adapter gives the same bits. Equal pictures are always equal; different ones
// differ but for a chance of about 1 in 2^64.

struct Settings {
    none: u32,
}

struct Job {
    from_layer: u32,
    into_entry: u32,
}

@group(0) @binding(0) var picture: texture_2d_array<f32>;
@group(0) @binding(1) var<uniform> settings: Settings;
@group(0) @binding(2) var<storage, read_write> sums: array<atomic<u32>>;
@group(0) @binding(3) var<storage, read> jobs: array<Job>;

var<workgroup> partial: array<atomic<u32>, 4>;

fn stirred(value: u32) -> u32 {
    var h = value;
    h = (h ^ (h >> 16u)) * 0x85ebca6bu;
    h = (h ^ (h >> 13u)) * 0xc2b2ae35u;
    return h ^ (h >> 16u);
}

// Each invocation takes one column of a band of rows.
const BAND_ROWS = 32u;

@compute @workgroup_size(64, 1)
fn fingerprint_main(
    @builtin(global_invocation_id) id: vec3u,
    @builtin(local_invocation_index) local: u32,
) {
    let size = textureDimensions(picture);
    let job = jobs[id.z];
    var sum = vec4u(0u);
    if id.x < size.x {
        let end = min((id.y + 1u) * BAND_ROWS, size.y);
        for (var y = id.y * BAND_ROWS; y < end; y++) {
            let c = output_texel(textureLoad(picture, vec2u(id.x, y), job.from_layer, 0));
            let bytes = vec4u(c * 255.0 + 0.5);
            let word = bytes.r | (bytes.g << 8u) | (bytes.b << 16u) | (bytes.a << 24u);
            let place = y * size.x + id.x;
            let a = stirred(word ^ stirred(place + 0x9e3779b9u));
            let b = stirred(word + stirred(place ^ 0x7f4a7c15u));
            sum += vec4u(a, b, a * (b | 1u), (a ^ 0x2545f491u) * ((b << 1u) | 1u));
        }
    }
    for (var lane = 0u; lane < 4u; lane++) {
        atomicAdd(&partial[lane], sum[lane]);
    }
    workgroupBarrier();
    if local < 4u {
        atomicAdd(&sums[job.into_entry * 4u + local], atomicLoad(&partial[local]));
    }
}
