// Puts a picture of 16-bit floats together again: from the higher byte of each channel, and the lower.

@group(0) @binding(0) var highs: texture_2d_array<f32>;
@group(0) @binding(1) var lows: texture_2d_array<f32>;
@group(0) @binding(3) var result: Target;

// What the bits of a 16-bit float stand for, as `halved.wgsl` takes them from it.
fn float_of(bits: u32) -> f32 {
    let sign = (bits & 0x8000u) << 16u;
    let size = bits & 0x7fffu;
    if size < 0x400u {
        return bitcast<f32>(sign | bitcast<u32>(f32(size) / 16777216.0));
    }
    return bitcast<f32>(sign | ((size + (112u << 10u)) << 13u));
}

@compute @workgroup_size(WORKGROUP_WIDTH, WORKGROUP_HEIGHT)
fn joined_main(@builtin(global_invocation_id) id: vec3u) {
    let at = vec2i(id.xy);
    if any(at >= vec2i(textureDimensions(highs))) {
        return;
    }
    // Rounded: adapters decode a byte to values that differ in the last bit.
    let high = vec4u(round(textureLoad(highs, at, 0, 0) * 255.0));
    let low = vec4u(round(textureLoad(lows, at, 0, 0) * 255.0));
    let bits = (high << vec4u(8u)) | low;
    let c = vec4f(float_of(bits.x), float_of(bits.y), float_of(bits.z), float_of(bits.w));
    textureStore(result, at, 0, c);
}
