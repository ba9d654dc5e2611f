// There is no picture to take the size of, or it may be of another size.

fn frame_size() -> vec2i {
    return vec2i(textureDimensions(result));
}
