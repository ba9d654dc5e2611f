// How `channel_over_past_at` gives a texel: each channel alone, told where.

fn over_memory(now: vec4f, past: vec4f, at: vec2i) -> vec4f {
    return vec4f(
        channel_over_past_at(now.r, past.r, 0u, at),
        channel_over_past_at(now.g, past.g, 1u, at),
        channel_over_past_at(now.b, past.b, 2u, at),
        channel_over_past_at(now.a, past.a, 3u, at),
    );
}
