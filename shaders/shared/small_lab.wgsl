// A picture that is given out, over black, smaller, in CIELAB, in whole numbers.

// Parts of a unit of L*a*b*. Sums of whole numbers do not depend on who adds first; the 40,320 orders of eight effects
// stay below 2^31, as no sRGB colour has a coordinate beyond 108.
const LAB_PARTS = 256.0;

// The texel at `at` of a layer of `picture` brought to a size by area, on encoded values, as viewers scale pictures.
fn small_lab(layer: u32, at: vec2u, small: vec2u) -> vec3i {
    // Edges in units of 1/small of a texel, so that they are whole numbers.
    let size = textureDimensions(picture);
    let low = at * size;
    let high = low + size;
    let first = low / small;
    let last = (high - 1u) / small;
    var sum = vec3f(0.0);
    for (var y = first.y; y <= last.y; y++) {
        let tall = min(high.y, (y + 1u) * small.y) - max(low.y, y * small.y);
        for (var x = first.x; x <= last.x; x++) {
            let wide = min(high.x, (x + 1u) * small.x) - max(low.x, x * small.x);
            let c = byte_rounded(textureLoad(picture, vec2u(x, y), layer, 0));
            sum += c.rgb * c.a * f32(wide * tall);
        }
    }
    return vec3i(round(lab_from_srgb(sum / f32(size.x * size.y)) * LAB_PARTS));
}
