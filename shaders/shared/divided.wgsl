// Straight colour of a premultiplied one; no colour where there is no alpha.
fn unpremultiplied(c: vec4f) -> vec4f {
    let divided = c.rgb / max(c.a, 1e-7);
    return vec4f(select(select(divided, vec3f(0.0), c.a <= 0.0), c.rgb, c.a == 1.0), c.a);
}
