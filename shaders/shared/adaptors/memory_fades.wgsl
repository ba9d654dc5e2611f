// A last output that fades; `memory_setting` is the share of it that a frame leaves.

fn memory_holds() -> bool {
    return false;
}

fn left_by_memory(last: vec4f, now: vec4f) -> vec4f {
    return faded(last, memory_setting());
}
