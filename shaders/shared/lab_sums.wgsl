// Sums of small pictures in CIELAB, each times a weight, several sums at a time: what means are made of.

struct Settings {
    width: u32,
    height: u32,
    // Where the sums begin, in words.
    into: u32,
    pictures: u32,
}

const COLUMNS = 16u;

// A picture, and what it weighs in each sum.
struct Job {
    layer: u32,
    unused_1: u32,
    unused_2: u32,
    unused_3: u32,
    weights: array<vec4u, 4>,
}

@group(0) @binding(0) var picture: texture_2d_array<f32>;
@group(0) @binding(1) var<uniform> settings: Settings;
@group(0) @binding(2) var<storage, read_write> figures: array<i32>;
@group(0) @binding(3) var<storage, read> jobs: array<Job>;

@compute @workgroup_size(WORKGROUP_WIDTH, WORKGROUP_HEIGHT)
fn lab_sums_main(@builtin(global_invocation_id) id: vec3u) {
    let small = vec2u(settings.width, settings.height);
    if any(id.xy >= small) {
        return;
    }
    var sums: array<vec3i, COLUMNS>;
    for (var nth = 0u; nth < settings.pictures; nth++) {
        let lab = small_lab(jobs[nth].layer, id.xy, small);
        for (var column = 0u; column < COLUMNS; column++) {
            sums[column] += lab * i32(jobs[nth].weights[column / 4u][column % 4u]);
        }
    }
    let texels = small.x * small.y;
    let texel = id.y * small.x + id.x;
    for (var column = 0u; column < COLUMNS; column++) {
        let at = settings.into + (column * texels + texel) * 3u;
        figures[at] += sums[column].x;
        figures[at + 1u] += sums[column].y;
        figures[at + 2u] += sums[column].z;
    }
}
