// What an effect has in hand in one pass with others: what the effect `before` it gives, as it would be stored.

fn stored(at: vec2i) -> vec4f {
    return quantised(before(clamp(at, vec2i(0), frame_size() - 1)));
}

fn straight(at: vec2i) -> vec4f {
    return unpremultiplied(stored(at));
}
