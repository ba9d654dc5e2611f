// A last output that stays as it is until a new one is due, which is made of the picture alone; `memory_setting` is 1 then.

fn memory_holds() -> bool {
    return memory_setting() != 1u;
}

fn left_by_memory(last: vec4f, now: vec4f) -> vec4f {
    return now;
}
