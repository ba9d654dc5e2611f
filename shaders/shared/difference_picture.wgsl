// How far apart two pictures are, texel by texel, in colours of a scale.

struct Settings {
    // Where the scale ends, in CIEDE2000.
    most: f32,
}

struct Job {
    from_layer: u32,
    reference_layer: u32,
    into_layer: u32,
    unused: u32,
}

@group(0) @binding(0) var picture: texture_2d_array<f32>;
@group(0) @binding(1) var reference: texture_2d_array<f32>;
@group(0) @binding(2) var<uniform> settings: Settings;
@group(0) @binding(3) var result: texture_storage_2d_array<rgba8unorm, write>;
@group(0) @binding(4) var<storage, read> jobs: array<Job>;

// The stops of `measure::DifferenceScale`.
const STOPS = array<vec3f, 5>(
    vec3f(0.0, 0.0, 0.0),
    vec3f(0.0, 114.0, 178.0),
    vec3f(213.0, 94.0, 0.0),
    vec3f(240.0, 228.0, 66.0),
    vec3f(255.0, 255.0, 255.0),
);

@compute @workgroup_size(WORKGROUP_WIDTH, WORKGROUP_HEIGHT)
fn difference_picture_main(@builtin(global_invocation_id) id: vec3u) {
    if any(id.xy >= textureDimensions(picture)) {
        return;
    }
    let job = jobs[id.z];
    let a = byte_rounded(textureLoad(picture, id.xy, job.from_layer, 0));
    let b = byte_rounded(textureLoad(reference, id.xy, job.reference_layer, 0));
    let along = clamp(ciede2000(lab_from_srgb(over_black(b)), lab_from_srgb(over_black(a))) / settings.most, 0.0, 1.0) * 4.0;
    var c = vec3f(0.0);
    for (var stop = 0; stop < 4; stop++) {
        if along >= f32(stop) {
            c = STOPS[stop] + (STOPS[stop + 1] - STOPS[stop]) * (along - f32(stop));
        }
    }
    textureStore(result, id.xy, job.into_layer, byte_rounded(vec4f(c / 255.0, 1.0)));
}
