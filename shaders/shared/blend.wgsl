// Lays one picture over another, as `laid` lays a texel.

struct BlendJob {
    backdrop_layer: u32,
    source_layer: u32,
    into_layer: u32,
    unused: u32,
}

struct BlendSettings {
    mode: u32,
    opacity: f32,
}

@group(0) @binding(0) var backdrops: texture_2d_array<f32>;
@group(0) @binding(1) var sources: texture_2d_array<f32>;
@group(0) @binding(2) var<uniform> blend_settings: BlendSettings;
@group(0) @binding(3) var result: Target;
@group(0) @binding(4) var<storage, read> blend_jobs: array<BlendJob>;

@compute @workgroup_size(WORKGROUP_WIDTH, WORKGROUP_HEIGHT)
fn blend_main(@builtin(global_invocation_id) id: vec3u) {
    let at = vec2i(id.xy);
    if any(at >= vec2i(textureDimensions(backdrops))) {
        return;
    }
    let job = blend_jobs[id.z];
    // Quantised once more, as an effect's `stored` does.
    let backdrop = quantised(textureLoad(backdrops, at, job.backdrop_layer, 0));
    let source = quantised(textureLoad(sources, at, job.source_layer, 0));
    let both = laid(backdrop, source, blend_settings.mode, blend_settings.opacity);
    textureStore(result, at, job.into_layer, quantised(both));
}
