// One texel over what the effect's memory leaves of its own last output there; full alpha stays full.

fn result_at(at: vec2i) -> vec4f {
    let now = stored(at);
    let last = last_stored(at);
    if memory_holds() {
        return last;
    }
    let over = over_memory(now, left_by_memory(last, now), at);
    return vec4f(over.rgb, select(over.a, 1.0, now.a == 1.0 && last.a == 1.0));
}
