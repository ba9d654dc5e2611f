// Lays one picture over another: W3C Compositing and Blending Level 1, source-over,
// with the separable blend modes, and `add` (sum of the premultiplied pictures).

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

fn hard_light(b: f32, s: f32) -> f32 {
    if s <= 0.5 {
        return b * 2.0 * s;
    }
    let t = 2.0 * s - 1.0;
    return b + t - b * t;
}

fn soft_light(b: f32, s: f32) -> f32 {
    if s <= 0.5 {
        return b - (1.0 - 2.0 * s) * b * (1.0 - b);
    }
    let d = select(sqrt(max(b, 0.0)), ((16.0 * b - 12.0) * b + 4.0) * b, b <= 0.25);
    return b + (2.0 * s - 1.0) * (d - b);
}

fn colour_dodge(b: f32, s: f32) -> f32 {
    if b <= 0.0 {
        return 0.0;
    }
    if s >= 1.0 {
        return 1.0;
    }
    return min(1.0, b / (1.0 - s));
}

fn colour_burn(b: f32, s: f32) -> f32 {
    if b >= 1.0 {
        return 1.0;
    }
    if s <= 0.0 {
        return 0.0;
    }
    return 1.0 - min(1.0, (1.0 - b) / s);
}

// B(cb, cs) of the specification, one channel, straight colours. The numbers
// are the places of the modes in `BlendMode::ALL`.
fn blended(mode: u32, b: f32, s: f32) -> f32 {
    switch mode {
        case 1u: { return b * s; }
        case 2u: { return b + s - b * s; }
        case 3u: { return hard_light(s, b); }
        case 4u: { return min(b, s); }
        case 5u: { return max(b, s); }
        case 6u: { return colour_dodge(b, s); }
        case 7u: { return colour_burn(b, s); }
        case 8u: { return hard_light(b, s); }
        case 9u: { return soft_light(b, s); }
        case 10u: { return abs(b - s); }
        case 11u: { return b + s - 2.0 * b * s; }
        default: { return s; }
    }
}

const ADD_MODE = 12u;

@compute @workgroup_size(WORKGROUP_WIDTH, WORKGROUP_HEIGHT)
fn blend_main(@builtin(global_invocation_id) id: vec3u) {
    let at = vec2i(id.xy);
    if any(at >= vec2i(textureDimensions(backdrops))) {
        return;
    }
    let job = blend_jobs[id.z];
    // Quantised once more, as in `stored`: adapters decode a byte to values that differ in the last bit.
    let backdrop = quantised(textureLoad(backdrops, at, job.backdrop_layer, 0));
    let source = quantised(textureLoad(sources, at, job.source_layer, 0)) * blend_settings.opacity;
    let alpha = source.a + backdrop.a * (1.0 - source.a);
    var colour: vec3f;
    if blend_settings.mode == ADD_MODE {
        // Sum of the light of both; the alpha is that of source-over, so it stays a coverage.
        colour = source.rgb + backdrop.rgb;
    } else {
        let b = unpremultiplied(backdrop).rgb;
        let s = unpremultiplied(source).rgb;
        let m = vec3f(
            blended(blend_settings.mode, b.r, s.r),
            blended(blend_settings.mode, b.g, s.g),
            blended(blend_settings.mode, b.b, s.b),
        );
        // co = cs + cb (1 - as), with Cs replaced by (1 - ab) Cs + ab B(Cb, Cs).
        colour = source.a * ((1.0 - backdrop.a) * s + backdrop.a * m) + backdrop.rgb * (1.0 - source.a);
    }
    textureStore(result, at, job.into_layer, held(vec4f(colour, alpha)));
}

// A premultiplied result as it may be held: in 8 bits a colour never exceeds its alpha.
fn held(c: vec4f) -> vec4f {
    return quantised(limited(c));
}
