// Pictures keep their size from effect to effect.

fn frame_size() -> vec2i {
    return vec2i(textureDimensions(picture));
}
