// What an effect itself gave one frame ago, premultiplied; it stands in the layer that is written now.

@group(0) @binding(4) var past_picture: texture_2d_array<f32>;

fn last_stored(at: vec2i) -> vec4f {
    return quantised(textureLoad(past_picture, clamp(at, vec2i(0), frame_size() - 1), past_layer, 0));
}
