// How light the blocks of pictures are, summed in whole steps, on a scale on which no two colours are further apart
// than their CIEDE2000: so far pictures are apart at the least. `measure::lightness` is the same on the processor.

struct Settings {
    // Blocks of a picture; those at its right and lower edge may be smaller.
    columns: u32,
    rows: u32,
}

struct Job {
    from_layer: u32,
    into_entry: u32,
}

@group(0) @binding(0) var picture: texture_2d_array<f32>;
@group(0) @binding(1) var<uniform> settings: Settings;
@group(0) @binding(2) var<storage, read_write> sums: array<u32>;
@group(0) @binding(3) var<storage, read> jobs: array<Job>;

const BLOCK = 4u;
const STEPS = 1024.0;

fn lightness(l: f32) -> f32 {
    let away = l - 50.0;
    return 0.97 / 0.015 * (log(1.75) + sign(away) * log(1.0 + 0.015 * abs(away)));
}

@compute @workgroup_size(WORKGROUP_WIDTH, WORKGROUP_HEIGHT)
fn lightness_main(@builtin(global_invocation_id) id: vec3u) {
    if id.x >= settings.columns || id.y >= settings.rows {
        return;
    }
    let job = jobs[id.z];
    let first = id.xy * BLOCK;
    let end = min(first + BLOCK, textureDimensions(picture));
    var sum = 0u;
    for (var y = first.y; y < end.y; y++) {
        for (var x = first.x; x < end.x; x++) {
            let c = byte_rounded(textureLoad(picture, vec2u(x, y), job.from_layer, 0));
            sum += u32(max(lightness(lab_from_srgb(over_black(c)).x), 0.0) * STEPS + 0.5);
        }
    }
    sums[(job.into_entry * settings.rows + id.y) * settings.columns + id.x] = sum;
}
