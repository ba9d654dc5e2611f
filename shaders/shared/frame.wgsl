// What an effect has in hand: the picture before it, texel by texel, origin top left.

@group(0) @binding(0) var picture: texture_2d_array<f32>;

// The layer that is read, and the one that is written, which also holds an effect's own last output.
var<private> layer: u32;
var<private> past_layer: u32;

// The texel as it is held, premultiplied; past the border, the border's texel. It
// is quantised once more, because adapters decode a byte to values that differ in
// the last bit, which could tip a later rounding.
fn stored(at: vec2i) -> vec4f {
    return quantised(textureLoad(picture, clamp(at, vec2i(0), frame_size() - 1), layer, 0));
}

// The texel with straight alpha.
fn straight(at: vec2i) -> vec4f {
    return unpremultiplied(stored(at));
}
