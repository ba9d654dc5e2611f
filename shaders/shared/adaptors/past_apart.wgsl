// How `channel_over_past` gives a texel: each channel alone, never told where.

fn over_memory(now: vec4f, past: vec4f, at: vec2i) -> vec4f {
    return vec4f(
        channel_over_past(now.r, past.r, 0u),
        channel_over_past(now.g, past.g, 1u),
        channel_over_past(now.b, past.b, 2u),
        channel_over_past(now.a, past.a, 3u),
    );
}
