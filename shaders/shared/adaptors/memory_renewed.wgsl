// A last output for which the picture itself stands in whenever that is due; `memory_setting` is 1 then.

fn memory_holds() -> bool {
    return false;
}

fn left_by_memory(last: vec4f, now: vec4f) -> vec4f {
    return select(last, now, memory_setting() == 1u);
}
