// How far pictures are from a reference, counted in whole numbers: the sums do not
// depend on who adds first. `measure::Counted` is the same on the processor.

struct Settings {
    // Every `step`-th row is counted, from the `first` on; every one where both are 0.
    first: u32,
    step: u32,
}

struct Job {
    from_layer: u32,
    reference_layer: u32,
    into_entry: u32,
    unused: u32,
}

@group(0) @binding(0) var picture: texture_2d_array<f32>;
@group(0) @binding(1) var reference: texture_2d_array<f32>;
@group(0) @binding(2) var<uniform> settings: Settings;
@group(0) @binding(3) var<storage, read_write> figures: array<atomic<u32>>;
@group(0) @binding(4) var<storage, read> jobs: array<Job>;

// changed, largest, sum (low word, high word), then the bins: `BINS` of them, declared beside this file, or one that
// stays empty where sums are enough.
const ENTRY_WORDS = 4u + BINS;
const HAS_BINS = BINS > 1u;
const STEPS = 1024u;
const FINE_BINS = 64u;
const FINE_WIDTH = STEPS / 16u;
const FINE_END = FINE_BINS * FINE_WIDTH;
const WIDTH = STEPS * 5u / 32u;

var<workgroup> bins: array<atomic<u32>, BINS>;
var<workgroup> counted: array<atomic<u32>, 3>;

fn bin_of(steps: u32) -> u32 {
    var bin = steps / FINE_WIDTH;
    if steps >= FINE_END {
        bin = FINE_BINS + (steps - FINE_END) / WIDTH;
    }
    return min(bin, BINS - 1u);
}

// Each invocation takes one column of a band of the rows that are counted.
const BAND_ROWS = 32u;

@compute @workgroup_size(64, 1)
fn difference_main(
    @builtin(global_invocation_id) id: vec3u,
    @builtin(local_invocation_index) local: u32,
) {
    let size = textureDimensions(picture);
    let job = jobs[id.z];
    var changed = 0u;
    var largest = 0u;
    var sum = 0u;
    if id.x < size.x {
        let step = max(settings.step, 1u);
        let band = id.y * BAND_ROWS;
        let end = min((band + BAND_ROWS) * step + settings.first, size.y);
        for (var y = band * step + settings.first; y < end; y += step) {
            let at = vec2u(id.x, y);
            let a = read_out(textureLoad(picture, at, job.from_layer, 0));
            let b = byte_rounded(textureLoad(reference, at, job.reference_layer, 0));
            if any(a != b) {
                let apart = ciede2000(lab_from_srgb(over_black(b)), lab_from_srgb(over_black(a)));
                let steps = u32(apart * f32(STEPS) + 0.5);
                changed += 1u;
                largest = max(largest, steps);
                // At most 32 x 64 texels of less than 2^18 steps: the workgroup's sum fits in 32 bits.
                sum += steps;
                if HAS_BINS {
                    atomicAdd(&bins[bin_of(steps)], 1u);
                }
            }
        }
    }
    if changed > 0u {
        atomicAdd(&counted[0], changed);
        atomicMax(&counted[1], largest);
        atomicAdd(&counted[2], sum);
    }
    workgroupBarrier();
    let all_changed = atomicLoad(&counted[0]);
    if all_changed == 0u {
        return;
    }
    let entry = job.into_entry * ENTRY_WORDS;
    if local == 0u {
        atomicAdd(&figures[entry], all_changed);
        atomicMax(&figures[entry + 1u], atomicLoad(&counted[1]));
        let low = atomicLoad(&counted[2]);
        let before = atomicAdd(&figures[entry + 2u], low);
        if before + low < before {
            atomicAdd(&figures[entry + 3u], 1u);
        }
    }
    if HAS_BINS {
        for (var bin = local; bin < BINS; bin += 64u) {
            let count = atomicLoad(&bins[bin]);
            if count > 0u {
                atomicAdd(&figures[entry + 4u + bin], count);
            }
        }
    }
}
