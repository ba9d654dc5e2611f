//! WGSL put together: an effect's own file first, so that error lines are its lines, then what it stands on.

use super::{Channels, Effect, Position, Reach};
use crate::frame::PixelMode;

const FRAME: &str = include_str!("../../shaders/shared/frame.wgsl");
const COLOUR: &str = include_str!("../../shaders/shared/colour.wgsl");
const ENCODED_8BIT: &str = include_str!("../../shaders/shared/encoded_8bit.wgsl");
const LINEAR_FLOAT: &str = include_str!("../../shaders/shared/linear_float.wgsl");
const PASS: &str = include_str!("../../shaders/shared/pass.wgsl");
const INDEX_MAP: &str = include_str!("../../shaders/shared/index_map.wgsl");
const OUTPUT: &str = include_str!("../../shaders/shared/output.wgsl");

/// Texels that one workgroup takes: wide rows suit a processor, squares a GPU's caches.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Workgroup {
    /// Texels across.
    pub width: u32,
    /// Texels down.
    pub height: u32,
}

impl Workgroup {
    /// For software rasterisers (measured: fastest of five shapes for both texel and neighbourhood passes).
    pub const WIDE: Self = Self { width: 64, height: 1 };
    /// For GPUs.
    pub const SQUARE: Self = Self { width: 16, height: 8 };

    fn constants(self) -> String {
        format!("const WORKGROUP_WIDTH = {}u;\nconst WORKGROUP_HEIGHT = {}u;\n", self.width, self.height)
    }
}

fn pixel_text(pixels: PixelMode) -> &'static str {
    match pixels {
        PixelMode::Encoded8Bit => ENCODED_8BIT,
        PixelMode::LinearFloat => LINEAR_FLOAT,
    }
}

/// How the function that an effect's file has gives one premultiplied texel.
fn adaptor(effect: &Effect) -> &'static str {
    match (effect.reach, effect.channels, effect.position) {
        (Reach::Texel, Channels::Apart, Position::Ignored) => {
            "fn result_at(at: vec2i) -> vec4f {
    let c = straight(at);
    return premultiplied(vec4f(channel(c.r, 0u), channel(c.g, 1u), channel(c.b, 2u), c.a));
}"
        }
        (Reach::Texel, Channels::Apart, Position::Matters) => {
            "fn result_at(at: vec2i) -> vec4f {
    let c = straight(at);
    return premultiplied(vec4f(channel_at(c.r, 0u, at), channel_at(c.g, 1u, at), channel_at(c.b, 2u, at), c.a));
}"
        }
        (Reach::Texel, _, Position::Ignored) => {
            "fn result_at(at: vec2i) -> vec4f {
    let c = straight(at);
    return premultiplied(vec4f(colour(c.rgb), c.a));
}"
        }
        (Reach::Texel, _, Position::Matters) => {
            "fn result_at(at: vec2i) -> vec4f {
    let c = straight(at);
    return premultiplied(vec4f(colour_at(c.rgb, at), c.a));
}"
        }
        (Reach::Move, Channels::Together, _) => {
            "fn source_of(at: vec2i, channel: u32) -> vec2i {
    return clamp(source(at), vec2i(0), frame_size() - 1);
}
fn result_at(at: vec2i) -> vec4f {
    return stored(source(at));
}"
        }
        (Reach::Move, ..) => {
            "fn source_of(at: vec2i, channel: u32) -> vec2i {
    return clamp(source(at, channel), vec2i(0), frame_size() - 1);
}
fn result_at(at: vec2i) -> vec4f {
    let r = stored(source(at, 0u));
    let g = stored(source(at, 1u));
    let b = stored(source(at, 2u));
    return vec4f(r.r, g.g, b.b, max(r.a, max(g.a, b.a)));
}"
        }
        (Reach::Neighbourhood { .. }, ..) => {
            "fn result_at(at: vec2i) -> vec4f {
    return premultiplied(area(at));
}"
        }
        (Reach::Source, ..) => {
            "fn result_at(at: vec2i) -> vec4f {
    let painted = paint(at);
    return premultiplied(vec4f(working_from_srgb(clamp(painted.rgb, vec3f(0.0), vec3f(1.0))), painted.a));
}"
        }
    }
}

/// Where the frame's size is read: a generated source has no picture before it.
fn frame_size(effect: &Effect) -> &'static str {
    match effect.reach {
        Reach::Source => "fn frame_size() -> vec2i { return vec2i(textureDimensions(result)); }",
        _ => "fn frame_size() -> vec2i { return vec2i(textureDimensions(picture)); }",
    }
}

/// The whole shader of one effect in one pixel mode; its entry point is `pass_main`.
pub fn assembled(effect: &Effect, pixels: PixelMode, workgroup: Workgroup) -> String {
    [
        &effect.source,
        FRAME,
        COLOUR,
        pixel_text(pixels),
        &workgroup.constants(),
        frame_size(effect),
        adaptor(effect),
        PASS,
    ]
    .join("\n")
}

/// The shader that writes a move's index map; its entry point is `index_map_main`.
pub fn index_map_shader(effect: &Effect, workgroup: Workgroup) -> String {
    [
        &effect.source,
        FRAME,
        COLOUR,
        pixel_text(PixelMode::Encoded8Bit),
        &workgroup.constants(),
        frame_size(effect),
        adaptor(effect),
        INDEX_MAP,
    ]
    .join("\n")
}

/// A shader of the program's own: `text` over the shared colour, pixel-mode and output text.
pub fn plain_shader(text: &str, pixels: PixelMode, workgroup: Workgroup) -> String {
    [text, COLOUR, pixel_text(pixels), OUTPUT, &workgroup.constants()].join("\n")
}

/// A pass of the program's own: `text` gives `struct Settings` and `result_at`, as an effect and its adaptor do.
pub fn plain_pass(text: &str, pixels: PixelMode, workgroup: Workgroup) -> String {
    let size = "fn frame_size() -> vec2i { return vec2i(textureDimensions(result)); }";
    [text, FRAME, COLOUR, pixel_text(pixels), OUTPUT, &workgroup.constants(), size, PASS].join("\n")
}
