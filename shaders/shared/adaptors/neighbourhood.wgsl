// How `area` gives a texel out of those around it.

fn result_at(at: vec2i) -> vec4f {
    return premultiplied(area(at));
}
