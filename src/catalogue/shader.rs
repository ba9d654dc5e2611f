//! WGSL put together: an effect's own file first, so that error lines are its lines, then what it stands on.

use std::borrow::Cow;
use std::sync::Arc;

use super::{Channels, Effect, Memory, Position, Reach};
use crate::base::frame::PixelMode;

const FRAME: &str = include_str!("../../shaders/shared/frame.wgsl");
const COLOUR: &str = include_str!("../../shaders/shared/colour.wgsl");
const ENCODED_8BIT: &str = include_str!("../../shaders/shared/encoded_8bit.wgsl");
const LINEAR_FLOAT: &str = include_str!("../../shaders/shared/linear_float.wgsl");
const PAST: &str =
    concat!(include_str!("../../shaders/shared/faded.wgsl"), include_str!("../../shaders/shared/past.wgsl"));
const NO_PAST: &str = concat!(
    include_str!("../../shaders/shared/faded.wgsl"),
    include_str!("../../shaders/shared/no_past.wgsl")
);
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
    /// Rows of texels that one invocation of a pass takes.
    pub rows: u32,
    /// Whether those rows are written out, so that all are read before the first is stored: a GPU
    /// hides its memory's delay only with that many bytes under way. A processor would compile longer.
    pub unrolled: bool,
}

impl Workgroup {
    /// For software rasterisers (measured: fastest of five shapes for both texel and neighbourhood passes).
    pub const WIDE: Self = Self { width: 64, height: 1, rows: 8, unrolled: false };
    /// For GPUs.
    pub const SQUARE: Self = Self { width: 16, height: 8, rows: 4, unrolled: true };

    fn constants(self) -> String {
        format!(
            "const WORKGROUP_WIDTH = {}u;\nconst WORKGROUP_HEIGHT = {}u;\nconst ROWS_AT_ONCE = {}u;\n",
            self.width, self.height, self.rows
        )
    }

    /// The pass over many pictures, with the rows that one invocation takes.
    fn pass(self) -> String {
        let rows = if self.unrolled {
            let row = |row| format!("    let c{row} = quantised(result_at(at + vec2i(0, {row})));\n");
            let put = |row| format!("    put(at + vec2i(0, {row}), into_layer, c{row});\n");
            (0..self.rows).map(row).chain((0..self.rows).map(put)).collect()
        } else {
            "    for (var row = 0; row < i32(ROWS_AT_ONCE) && at.y + row < frame_size().y; row++) {
        put(at + vec2i(0, row), into_layer, quantised(result_at(at + vec2i(0, row))));
    }\n"
            .to_owned()
        };
        format!("{PASS}\nfn take_rows(at: vec2i, into_layer: u32) {{\n{rows}}}\n")
    }
}

fn pixel_text(pixels: PixelMode) -> &'static str {
    match pixels {
        PixelMode::Encoded8Bit => ENCODED_8BIT,
        PixelMode::LinearFloat => LINEAR_FLOAT,
    }
}

/// How the function that an effect's file has gives one premultiplied texel.
fn adaptor(effect: &Effect) -> Cow<'static, str> {
    let text = match (effect.reach, effect.channels, effect.position) {
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
        (Reach::PastFrames, ..) => return Cow::Owned(over_past(effect)),
        (Reach::Source, ..) => {
            "fn result_at(at: vec2i) -> vec4f {
    let painted = paint(at);
    return premultiplied(vec4f(working_from_srgb(clamp(painted.rgb, vec3f(0.0), vec3f(1.0))), painted.a));
}"
        }
    };
    Cow::Borrowed(text)
}

/// One texel over what the effect's memory leaves of its own last output there; full alpha stays full.
fn over_past(effect: &Effect) -> String {
    let past = match &effect.memory {
        Some(Memory::Fades(keep)) => format!("faded(last, settings.{keep})"),
        Some(Memory::Renewed(is_due)) => format!("select(last, now, settings.{is_due} == 1u)"),
        // What is held is renewed from the picture alone. The header is refused without a memory.
        Some(Memory::Held(_)) | None => "now".to_owned(),
    };
    let held = match &effect.memory {
        Some(Memory::Held(is_due)) => format!(
            "    if settings.{is_due} != 1u {{
        return last;
    }}
"
        ),
        _ => String::new(),
    };
    let channels = |call: &dyn Fn(&str, u32) -> String| {
        let calls: Vec<String> =
            ["r", "g", "b", "a"].into_iter().zip(0..).map(|(name, index)| call(name, index)).collect();
        format!("vec4f({})", calls.join(", "))
    };
    let result = match (effect.channels, effect.position) {
        (Channels::Apart, Position::Ignored) => {
            channels(&|c, index| format!("channel_over_past(now.{c}, past.{c}, {index}u)"))
        }
        (Channels::Apart, Position::Matters) => {
            channels(&|c, index| format!("channel_over_past_at(now.{c}, past.{c}, {index}u, at)"))
        }
        (_, Position::Ignored) => "over_past(now, past)".to_owned(),
        (_, Position::Matters) => "over_past_at(now, past, at)".to_owned(),
    };
    format!(
        "fn result_at(at: vec2i) -> vec4f {{
    let now = stored(at);
    let last = last_stored(at);
{held}    let past = {past};
    let over = {result};
    return vec4f(over.rgb, select(over.a, 1.0, now.a == 1.0 && last.a == 1.0));
}}"
    )
}

/// Where the frame's size is read: a generated source has no picture before it.
fn frame_size(effect: &Effect) -> &'static str {
    match effect.reach {
        Reach::Source => "fn frame_size() -> vec2i { return vec2i(textureDimensions(result)); }",
        _ => "fn frame_size() -> vec2i { return vec2i(textureDimensions(picture)); }",
    }
}

/// What an effect that remembers has of its past on the first frame of all.
fn first_frame(effect: &Effect) -> &'static str {
    if effect.reach == Reach::PastFrames { NO_PAST } else { "" }
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
        &adaptor(effect),
        first_frame(effect),
        &workgroup.pass(),
    ]
    .join("\n")
}

/// The whole shader of an effect that remembers, over its own last output; where there is none,
/// [`assembled`] gives the picture of its first frame.
pub fn past_shader(effect: &Effect, pixels: PixelMode, workgroup: Workgroup) -> String {
    let pass = workgroup.pass();
    [
        &effect.source,
        FRAME,
        COLOUR,
        pixel_text(pixels),
        &workgroup.constants(),
        frame_size(effect),
        &adaptor(effect),
        PAST,
        &pass.replace("layer = job.from_layer;", "layer = job.from_layer;\n    past_layer = job.into_layer;"),
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
        &adaptor(effect),
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
    [text, FRAME, COLOUR, pixel_text(pixels), OUTPUT, &workgroup.constants(), size, &workgroup.pass()]
        .join("\n")
}

/// The shader of a run of effects in one pass, byte for byte what one pass each would
/// store; its entry point is `pass_main`, its uniform [`run_uniform`]'s.
///
/// Only for [`PixelMode::Encoded8Bit`]: there the rounding between two effects
/// is the shader's own. Every name that an effect's file declares gets the
/// effect's place in the run behind it, and its `stored` and `straight` read
/// what the effect before it gives.
pub fn run_shader(run: &[Arc<Effect>], workgroup: Workgroup) -> String {
    let mut parts = Vec::new();
    let mut members = String::new();
    for (at, effect) in run.iter().enumerate() {
        let own = declared(&effect.source);
        let renamed = |word: &str| match word {
            "settings" => Some(format!("settings.of_{at}")),
            "result_at" | "source_of" => Some(format!("{word}_{at}")),
            "stored" | "straight" if at > 0 => Some(format!("{word}_{at}")),
            _ if own.contains(&word) => Some(format!("{word}_{at}")),
            _ => None,
        };
        parts.push(reworded(&effect.source, renamed));
        parts.push(reworded(&adaptor(effect), renamed));
        if at > 0 {
            parts.push(format!(
                "fn stored_{at}(at: vec2i) -> vec4f {{
    return quantised(result_at_{}(clamp(at, vec2i(0), frame_size() - 1)));
}}
fn straight_{at}(at: vec2i) -> vec4f {{
    return unpremultiplied(stored_{at}(at));
}}",
                at - 1
            ));
        }
        members += &format!("    @align(16) of_{at}: Settings_{at},\n");
    }
    parts.push(format!("struct Settings {{\n{members}}}"));
    parts.push(format!("fn result_at(at: vec2i) -> vec4f {{ return result_at_{}(at); }}", run.len() - 1));
    parts.extend([FRAME, COLOUR, pixel_text(PixelMode::Encoded8Bit)].map(str::to_owned));
    parts.push(workgroup.constants());
    parts.push("fn frame_size() -> vec2i { return vec2i(textureDimensions(picture)); }".to_owned());
    parts.push(workgroup.pass());
    parts.join("\n")
}

/// The uniform of a run: each effect's own, from a multiple of 16 bytes on.
pub fn run_uniform<'a>(uniforms: impl IntoIterator<Item = &'a [u8]>) -> Vec<u8> {
    let mut bytes = Vec::new();
    for uniform in uniforms {
        bytes.extend_from_slice(uniform);
        bytes.resize(bytes.len().next_multiple_of(16), 0);
    }
    bytes
}

/// The names that a file declares: what stands after these words.
fn declared(source: &str) -> Vec<&str> {
    let mut names = Vec::new();
    let mut before = "";
    for (word, is_name) in words(source) {
        if !is_name {
            continue;
        }
        if ["fn", "struct", "const", "alias", "override"].contains(&before) {
            names.push(word);
        }
        before = word;
    }
    names
}

/// The text with some names replaced; a struct's members stay, where they are declared and after a dot.
fn reworded(source: &str, renamed: impl Fn(&str) -> Option<String>) -> String {
    let words: Vec<_> = words(source).collect();
    let mut text = String::with_capacity(source.len() + 64);
    let mut in_struct = false;
    for (at, &(word, is_name)) in words.iter().enumerate() {
        match word {
            "struct" => in_struct = true,
            "}" => in_struct = false,
            _ => {}
        }
        let next = || words[at + 1..].iter().find(|(word, _)| !word.trim().is_empty());
        let is_member = || text.ends_with('.') || in_struct && next().is_some_and(|(word, _)| *word == ":");
        let new = if is_name && !is_member() { renamed(word) } else { None };
        match new {
            Some(new) => text += &new,
            None => text += word,
        }
    }
    text
}

/// A text cut into names, comments, numbers and what is between them; whether each is a name.
fn words(source: &str) -> impl Iterator<Item = (&str, bool)> {
    let mut rest = source;
    std::iter::from_fn(move || {
        let first = rest.chars().next()?;
        let is_letter = |c: char| c.is_alphanumeric() || c == '_';
        let end = |stop: &dyn Fn(char) -> bool| rest.find(stop).unwrap_or(rest.len());
        let length = if rest.starts_with("//") {
            end(&|c| c == '\n')
        } else if first.is_ascii_digit() {
            end(&|c| !is_letter(c) && c != '.')
        } else if is_letter(first) {
            end(&|c| !is_letter(c))
        } else {
            first.len_utf8()
        };
        let (word, after) = rest.split_at(length);
        rest = after;
        Some((word, is_letter(first) && !first.is_ascii_digit()))
    })
}
