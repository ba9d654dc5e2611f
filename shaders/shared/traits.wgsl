// How bright, how full of edges or how colourful pictures are, summed in whole steps: the sums do not depend on who
// adds first. `measure::Traits` is the same on the processor.

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

// A sum as two words, the low one first.
const ENTRY_WORDS = 2u;

var<workgroup> counted: atomic<u32>;

fn shown(at: vec2u, layer: u32) -> vec3f {
    return over_black(output_texel(textureLoad(picture, at, layer, 0)));
}

// Relative lightness L*/100 of a texel and its neighbours to the left and right; border texels are repeated.
fn lightness(at: vec2u, last: vec2u, layer: u32) -> vec3f {
    let y = min(at.y, last.y);
    let left = shown(vec2u(max(at.x, 1u) - 1u, y), layer);
    let here = shown(vec2u(at.x, y), layer);
    let right = shown(vec2u(min(at.x + 1u, last.x), y), layer);
    return vec3f(lab_from_srgb(left).x, lab_from_srgb(here).x, lab_from_srgb(right).x) / 100.0;
}

// Each invocation takes one column of a band of rows.
const BAND_ROWS = 32u;

@compute @workgroup_size(64, 1)
fn traits_main(
    @builtin(global_invocation_id) id: vec3u,
    @builtin(local_invocation_index) local: u32,
) {
    let size = textureDimensions(picture);
    let last = size - 1u;
    let job = jobs[id.z];
    var sum = 0u;
    if id.x < size.x {
        let first = id.y * BAND_ROWS;
        let end = min(first + BAND_ROWS, size.y);
        var above = vec3f(0.0);
        var here = vec3f(0.0);
        if TRAIT == EDGES {
            above = lightness(vec2u(id.x, max(first, 1u) - 1u), last, job.from_layer);
            here = lightness(vec2u(id.x, first), last, job.from_layer);
        }
        for (var y = first; y < end; y++) {
            let at = vec2u(id.x, y);
            var value = 0.0;
            if TRAIT == EDGES {
                let below = lightness(vec2u(id.x, y + 1u), last, job.from_layer);
                let down = above + 2.0 * here + below;
                let across = below - above;
                value = length(vec2f(down.z - down.x, across.x + 2.0 * across.y + across.z)) / 4.0;
                above = here;
                here = below;
            } else if TRAIT == COLOUR {
                value = length(lab_from_srgb(shown(at, job.from_layer)).yz);
            } else {
                value = weighed(linear_exact(shown(at, job.from_layer)), LUMINANCE_WEIGHTS);
            }
            // At most 32 x 64 texels of less than 2^18 steps: the workgroup's sum fits in 32 bits.
            sum += u32(value * STEPS + 0.5);
        }
    }
    atomicAdd(&counted, sum);
    workgroupBarrier();
    if local == 0u {
        let low = atomicLoad(&counted);
        let before = atomicAdd(&sums[job.into_entry * ENTRY_WORDS], low);
        if before + low < before {
            atomicAdd(&sums[job.into_entry * ENTRY_WORDS + 1u], 1u);
        }
    }
}

const BRIGHTNESS = 0u;
const EDGES = 1u;
const COLOUR = 2u;
