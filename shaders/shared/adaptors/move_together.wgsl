// How `source` moves texels whole: premultiplied, as they are held.

fn source_of(at: vec2i, channel: u32) -> vec2i {
    return clamp(source(at), vec2i(0), frame_size() - 1);
}

fn result_at(at: vec2i) -> vec4f {
    return stored(source(at));
}
