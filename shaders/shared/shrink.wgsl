// A finished picture at the size of a tile: the mean of the output texels that a
// tile's texel covers, by area. Means are taken on encoded values, as viewers
// scale pictures (common practice, no source).

struct Settings {
    width: u32,
    height: u32,
}

struct Job {
    from_layer: u32,
    into_layer: u32,
}

@group(0) @binding(0) var picture: texture_2d_array<f32>;
@group(0) @binding(1) var<uniform> settings: Settings;
@group(0) @binding(2) var tile: texture_storage_2d_array<rgba8unorm, write>;
@group(0) @binding(3) var<storage, read> jobs: array<Job>;

@compute @workgroup_size(WORKGROUP_WIDTH, WORKGROUP_HEIGHT)
fn shrink_main(@builtin(global_invocation_id) id: vec3u) {
    let tile_size = vec2u(settings.width, settings.height);
    if any(id.xy >= tile_size) {
        return;
    }
    let job = jobs[id.z];
    // Edges in units of 1/tile_size of a texel, so that they are whole numbers.
    let size = textureDimensions(picture);
    let low = id.xy * size;
    let high = low + size;
    let first = low / tile_size;
    let last = (high - 1u) / tile_size;
    var sum = vec4f(0.0);
    if ACROSS > 0u {
        // The same sum where each covers so many whole texels, in loops that are unrolled.
        for (var y = 0u; y < DOWN; y++) {
            for (var x = 0u; x < ACROSS; x++) {
                let c = read_out(textureLoad(picture, first + vec2u(x, y), job.from_layer, 0));
                sum += vec4f(c.rgb * c.a, c.a) * f32(tile_size.x) * f32(tile_size.y);
            }
        }
    } else {
        for (var y = first.y; y <= last.y; y++) {
            let tall = min(high.y, (y + 1u) * tile_size.y) - max(low.y, y * tile_size.y);
            for (var x = first.x; x <= last.x; x++) {
                let wide = min(high.x, (x + 1u) * tile_size.x) - max(low.x, x * tile_size.x);
                let c = read_out(textureLoad(picture, vec2u(x, y), job.from_layer, 0));
                sum += vec4f(c.rgb * c.a, c.a) * f32(wide) * f32(tall);
            }
        }
    }
    let mean = sum / (f32(size.x) * f32(size.y));
    textureStore(tile, id.xy, job.into_layer, byte_rounded(unpremultiplied(mean)));
}
