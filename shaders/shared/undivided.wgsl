// Straight colour of a premultiplied one that has full alpha: the same, as nothing has to be divided. It is a choice all the
// same, as where it is divided: a compiler that joined the product before it to a sum behind it would round otherwise.
fn unpremultiplied(c: vec4f) -> vec4f {
    return vec4f(select(vec3f(0.0), c.rgb, c.a > 0.0), c.a);
}
