// One premultiplied texel over another: W3C Compositing and Blending Level 1, source-over,
// with the separable blend modes, and `add` (sum of the premultiplied pictures).

fn hard_light(b: f32, s: f32) -> f32 {
    if s <= 0.5 {
        return b * 2.0 * s;
    }
    let t = 2.0 * s - 1.0;
    return b + t - b * t;
}

fn soft_light(b: f32, s: f32) -> f32 {
    if s <= 0.5 {
        return b - (1.0 - 2.0 * s) * b * (1.0 - b);
    }
    let d = select(sqrt(max(b, 0.0)), ((16.0 * b - 12.0) * b + 4.0) * b, b <= 0.25);
    return b + (2.0 * s - 1.0) * (d - b);
}

fn colour_dodge(b: f32, s: f32) -> f32 {
    if b <= 0.0 {
        return 0.0;
    }
    if s >= 1.0 {
        return 1.0;
    }
    return min(1.0, b / (1.0 - s));
}

fn colour_burn(b: f32, s: f32) -> f32 {
    if b >= 1.0 {
        return 1.0;
    }
    if s <= 0.0 {
        return 0.0;
    }
    return 1.0 - min(1.0, (1.0 - b) / s);
}

// B(cb, cs) of the specification, one channel, straight colours. The numbers
// are the places of the modes in `BlendMode::ALL`.
fn blended(mode: u32, b: f32, s: f32) -> f32 {
    switch mode {
        case 1u: { return b * s; }
        case 2u: { return b + s - b * s; }
        case 3u: { return hard_light(s, b); }
        case 4u: { return min(b, s); }
        case 5u: { return max(b, s); }
        case 6u: { return colour_dodge(b, s); }
        case 7u: { return colour_burn(b, s); }
        case 8u: { return hard_light(b, s); }
        case 9u: { return soft_light(b, s); }
        case 10u: { return abs(b - s); }
        case 11u: { return b + s - 2.0 * b * s; }
        default: { return s; }
    }
}

const ADD_MODE = 12u;

// What comes of both as they are held; in 8 bits a colour never exceeds its alpha.
fn laid(backdrop: vec4f, source: vec4f, mode: u32, opacity: f32) -> vec4f {
    let source_alpha = source.a * opacity;
    let alpha = source_alpha + backdrop.a * (1.0 - source_alpha);
    var colour: vec3f;
    if mode == ADD_MODE {
        // Sum of the light of both; the alpha is that of source-over, so it stays a coverage.
        colour = source.rgb * opacity + backdrop.rgb;
    } else {
        let b = unpremultiplied(backdrop).rgb;
        let s = unpremultiplied(source).rgb;
        let m = vec3f(blended(mode, b.r, s.r), blended(mode, b.g, s.g), blended(mode, b.b, s.b));
        // co = cs + cb (1 - as), with Cs replaced by (1 - ab) Cs + ab B(Cb, Cs).
        colour = source_alpha * ((1.0 - backdrop.a) * s + backdrop.a * m) + backdrop.rgb * (1.0 - source_alpha);
    }
    return limited(vec4f(colour, alpha));
}
