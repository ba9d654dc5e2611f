// Paints the window: triangles whose texels are a picture's, times a colour. Both are encoded and
// premultiplied, as the interface gives them. It does not branch: a processor would run both branches.

struct Window {
    // In points.
    size: vec2f,
    unused: vec2f,
}

struct Corner {
    @builtin(position) position: vec4f,
    @location(0) uv: vec2f,
    @location(1) colour: vec4f,
}

@group(0) @binding(0) var<uniform> window: Window;
@group(1) @binding(0) var picture: texture_2d<f32>;
@group(1) @binding(1) var picture_sampler: sampler;

@vertex
fn corner_main(@location(0) point: vec2f, @location(1) uv: vec2f, @location(2) colour: vec4f) -> Corner {
    let at = point / window.size * vec2f(2.0, -2.0) + vec2f(-1.0, 1.0);
    return Corner(vec4f(at, 0.0, 1.0), uv, colour);
}

@fragment
fn encoded_main(corner: Corner) -> @location(0) vec4f {
    return corner.colour * textureSample(picture, picture_sampler, corner.uv);
}

// For a surface that takes linear values, and encodes them by itself (IEC 61966-2-1).
@fragment
fn linear_main(corner: Corner) -> @location(0) vec4f {
    let c = corner.colour * textureSample(picture, picture_sampler, corner.uv);
    let high = pow((c.rgb + 0.055) / 1.055, vec3f(2.4));
    return vec4f(select(high, c.rgb / 12.92, c.rgb <= vec3f(0.04045)), c.a);
}
