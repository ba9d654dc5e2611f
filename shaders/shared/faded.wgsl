// What one frame leaves of a last output: never more than full light, and never for ever. What is taken
// off is a little more than half a byte, so that rounding cannot bring it back; and the program rounds
// `keep` to 1/4096, so that no byte times `keep` lies so near to a tie that adapters could differ.
const FADED_EACH_FRAME = (0.5 + 1.0 / 8192.0) / 255.0;

fn faded(last: vec4f, keep: f32) -> vec4f {
    return max(min(last, vec4f(1.0)) * keep - FADED_EACH_FRAME, vec4f(0.0));
}
