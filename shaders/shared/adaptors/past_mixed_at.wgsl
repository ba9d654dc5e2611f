// How `over_past_at` gives a texel: all channels together, told where.

fn over_memory(now: vec4f, past: vec4f, at: vec2i) -> vec4f {
    return over_past_at(now, past, at);
}
