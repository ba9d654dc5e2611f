//! WGSL put together: an effect's own file first, so that error lines are its lines, then what it stands on.

use std::borrow::Cow;

use super::{Channels, Effect, Memory, Position, Reach};
use crate::base::frame::PixelMode;

pub(super) const FRAME: &str = concat!(
    include_str!("../../shaders/shared/frame.wgsl"),
    include_str!("../../shaders/shared/settings_of_all.wgsl")
);
pub(super) const FRAME_OF_ANY: &str = concat!(
    include_str!("../../shaders/shared/frame.wgsl"),
    include_str!("../../shaders/shared/settings_of_any.wgsl")
);
const FRAME_OF_EACH: &str = concat!(
    include_str!("../../shaders/shared/frame.wgsl"),
    include_str!("../../shaders/shared/settings_of_each.wgsl")
);
pub(super) const COLOUR: &str = concat!(
    include_str!("../../shaders/shared/colour.wgsl"),
    include_str!("../../shaders/shared/divided.wgsl")
);
/// For pictures that have full alpha.
pub(super) const OPAQUE_COLOUR: &str = concat!(
    include_str!("../../shaders/shared/colour.wgsl"),
    include_str!("../../shaders/shared/undivided.wgsl")
);
const ENCODED_8BIT: &str = include_str!("../../shaders/shared/encoded_8bit.wgsl");
const LINEAR_FLOAT: &str = include_str!("../../shaders/shared/linear_float.wgsl");
const PAST: &str =
    concat!(include_str!("../../shaders/shared/faded.wgsl"), include_str!("../../shaders/shared/past.wgsl"));
pub(super) const NO_PAST: &str = concat!(
    include_str!("../../shaders/shared/faded.wgsl"),
    include_str!("../../shaders/shared/no_past.wgsl")
);
pub(super) const PASS: &str = include_str!("../../shaders/shared/pass.wgsl");
const INDEX_MAP: &str = include_str!("../../shaders/shared/index_map.wgsl");
pub(super) const SIZE_OF_PICTURE: &str = include_str!("../../shaders/shared/size_of_picture.wgsl");
const SIZE_OF_RESULT: &str = include_str!("../../shaders/shared/size_of_result.wgsl");
pub(super) const OUTPUT: &str = include_str!("../../shaders/shared/output.wgsl");

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
    /// For whoever compiles them first and waits for it, on a machine of any kind: the same without its four rows, which
    /// took a software adapter of a browser 51 ms of processor time a program in place of 22.
    pub const LEAN: Self = Self { rows: 1, ..Self::SQUARE };

    pub(super) fn constants(self) -> String {
        format!(
            "const WORKGROUP_WIDTH = {}u;\nconst WORKGROUP_HEIGHT = {}u;\nconst ROWS_AT_ONCE = {}u;\n",
            self.width, self.height, self.rows
        )
    }

    /// The pass over many pictures, with the rows that one invocation takes.
    fn pass(self) -> String {
        format!("{PASS}\n{}", self.rows_taken("take_rows", "result_at"))
    }

    /// The function that stores a few rows of what `texel` gives.
    pub(super) fn rows_taken(self, name: &str, texel: &str) -> String {
        let rows: String = if self.unrolled {
            let row = |row| format!("    let c{row} = quantised({texel}(at + vec2i(0, {row})));\n");
            let put = |row| format!("    put(at + vec2i(0, {row}), into_layer, c{row});\n");
            (0..self.rows).map(row).chain((0..self.rows).map(put)).collect()
        } else {
            format!(
                "    for (var row = 0; row < i32(ROWS_AT_ONCE) && at.y + row < frame_size().y; row++) {{
        put(at + vec2i(0, row), into_layer, quantised({texel}(at + vec2i(0, row))));
    }}\n"
            )
        };
        format!("fn {name}(at: vec2i, into_layer: u32) {{\n{rows}}}\n")
    }

    /// The function that sums what the texels of a band are stirred to, of what `texel` gives out.
    pub(super) fn band_summed(self, name: &str, texel: &str) -> String {
        let at_once = if self.unrolled { self.rows } else { 1 };
        let row = |row| format!("        let c{row} = {texel}(at + vec2i(0, {row}));\n");
        let sum = |row| format!("        sum += stirred_in(at + vec2i(0, {row}), c{row});\n");
        let rows: String = (0..at_once).map(row).chain((0..at_once).map(sum)).collect();
        format!(
            "fn {name}(first: vec2i) -> vec4u {{
    var sum = vec4u(0u);
    for (var row = 0; row < BAND_ROWS && first.y + row < frame_size().y; row += {at_once}) {{
        let at = first + vec2i(0, row);
{rows}    }}
    return sum;
}}\n"
        )
    }
}

pub(super) fn pixel_text(pixels: PixelMode) -> &'static str {
    match pixels {
        PixelMode::Encoded8Bit => ENCODED_8BIT,
        PixelMode::LinearFloat => LINEAR_FLOAT,
    }
}

/// What pictures are stored in.
pub(super) fn target(pixels: PixelMode) -> &'static str {
    match pixels {
        PixelMode::Encoded8Bit => "alias Target = texture_storage_2d_array<rgba8unorm, write>;",
        PixelMode::LinearFloat => "alias Target = texture_storage_2d_array<rgba16float, write>;",
    }
}

/// A file of `shaders/shared/adaptors`.
macro_rules! adaptor {
    ($name:literal) => {
        include_str!(concat!("../../shaders/shared/adaptors/", $name, ".wgsl"))
    };
}

const AFTER: &str = adaptor!("after");

/// How the function that an effect's file has gives one premultiplied texel. Whether an adaptor fits the file is
/// settled by naga, wherever the two are put together.
fn adaptor(effect: &Effect) -> Cow<'static, str> {
    Cow::Borrowed(match (effect.reach, effect.channels, effect.position) {
        (Reach::Texel, Channels::Apart, Position::Ignored) => adaptor!("texel_apart"),
        (Reach::Texel, Channels::Apart, Position::Matters) => adaptor!("texel_apart_at"),
        (Reach::Texel, _, Position::Ignored) => adaptor!("texel_mixed"),
        (Reach::Texel, _, Position::Matters) => adaptor!("texel_mixed_at"),
        (Reach::Move, Channels::Together, _) => adaptor!("move_together"),
        (Reach::Move, ..) => adaptor!("move_apart"),
        (Reach::Neighbourhood { .. }, ..) => adaptor!("neighbourhood"),
        (Reach::PastFrames, ..) => return Cow::Owned(over_past(effect)),
        (Reach::Source, ..) => adaptor!("source"),
    })
}

/// The adaptor of an effect that remembers: what its memory leaves, and its function over that.
fn over_past(effect: &Effect) -> String {
    let over = match (effect.channels, effect.position) {
        (Channels::Apart, Position::Ignored) => adaptor!("past_apart"),
        (Channels::Apart, Position::Matters) => adaptor!("past_apart_at"),
        (_, Position::Ignored) => adaptor!("past_mixed"),
        (_, Position::Matters) => adaptor!("past_mixed_at"),
    };
    let (left, kind) = match &effect.memory {
        Some(Memory::Fades(_)) => (adaptor!("memory_fades"), "f32"),
        Some(Memory::Renewed(_)) => (adaptor!("memory_renewed"), "u32"),
        Some(Memory::Held(_)) => (adaptor!("memory_held"), "u32"),
        // Its header is refused; naga finds the adaptor without its half.
        None => ("", "u32"),
    };
    let member = effect.memory.as_ref().map_or("", Memory::member);
    let setting = format!("fn memory_setting() -> {kind} {{ return settings.{member}; }}");
    [adaptor!("past"), over, left, &setting].join("\n")
}

/// Where the frame's size is read: a generated source has no picture before it.
fn frame_size(effect: &Effect) -> &'static str {
    if effect.reach == Reach::Source { SIZE_OF_RESULT } else { SIZE_OF_PICTURE }
}

/// What an effect that remembers has of its past on the first frame of all.
fn first_frame(effect: &Effect) -> &'static str {
    if effect.reach == Reach::PastFrames { NO_PAST } else { "" }
}

/// The whole shader of one effect in one pixel mode; its entry point is `pass_main`.
pub fn assembled(effect: &Effect, pixels: PixelMode, workgroup: Workgroup) -> String {
    pass_shader(effect, FRAME, first_frame(effect), pixels, workgroup)
}

fn pass_shader(effect: &Effect, frame: &str, past: &str, pixels: PixelMode, workgroup: Workgroup) -> String {
    [
        &effect.source,
        frame,
        COLOUR,
        pixel_text(pixels),
        &workgroup.constants(),
        frame_size(effect),
        &adaptor(effect),
        past,
        target(pixels),
        &workgroup.pass(),
    ]
    .join("\n")
}

/// The whole shader of an effect that remembers, over its own last output; where there is none,
/// [`assembled`] gives the picture of its first frame.
pub fn past_shader(effect: &Effect, pixels: PixelMode, workgroup: Workgroup) -> String {
    pass_shader(effect, FRAME, PAST, pixels, workgroup)
}

/// The shader of an effect that has settings of its own for every picture: each job has them behind it
/// ([`job_with_settings`]); over its own last output where there `is_past`.
pub fn shader_of_each(effect: &Effect, is_past: bool, pixels: PixelMode, workgroup: Workgroup) -> String {
    let past = if is_past { PAST } else { first_frame(effect) };
    pass_shader(effect, FRAME_OF_EACH, past, pixels, workgroup)
}

/// Puts a job of [`shader_of_each`] behind others: two layers, and from a multiple of 16 bytes on its settings.
pub fn job_with_settings(jobs: &mut Vec<u8>, from_layer: u32, into_layer: u32, settings: &[u8]) {
    jobs.extend_from_slice(&from_layer.to_le_bytes());
    jobs.extend_from_slice(&into_layer.to_le_bytes());
    jobs.resize(jobs.len().next_multiple_of(16), 0);
    jobs.extend_from_slice(settings);
    jobs.resize(jobs.len().next_multiple_of(16), 0);
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
    [text, COLOUR, pixel_text(pixels), OUTPUT, target(pixels), &workgroup.constants()].join("\n")
}

/// A pass of the program's own: `text` gives `struct Settings` and `result_at`, as an effect and its adaptor do.
/// What it gives is stored as pictures of `stored` are.
pub fn plain_pass(text: &str, pixels: PixelMode, stored: PixelMode, workgroup: Workgroup) -> String {
    [
        text,
        FRAME,
        COLOUR,
        pixel_text(pixels),
        OUTPUT,
        &workgroup.constants(),
        SIZE_OF_RESULT,
        target(stored),
        &workgroup.pass(),
    ]
    .join("\n")
}

/// An effect's file and its adaptor, with the effect's place in its pass behind every name that they declare, and
/// behind those of what it has in hand: its `stored` and `straight` read what stands before it.
pub(super) fn named_apart(effect: &Effect, at: usize) -> [String; 2] {
    let adaptor = adaptor(effect);
    let own: Vec<&str> = declared(&effect.source).chain(declared(&adaptor)).collect();
    let renamed = |word: &str| match word {
        "settings" => Some(format!("settings.of_{at}")),
        "stored" | "straight" => Some(format!("{word}_{at}")),
        _ if own.contains(&word) => Some(format!("{word}_{at}")),
        _ => None,
    };
    [reworded(&effect.source, renamed), reworded(&adaptor, renamed)]
}

/// What the effect at a place of its pass has in hand: what a function gives of a texel, as it would be stored.
pub(super) fn after(at: usize, before: &str) -> String {
    let renamed = |word: &str| match word {
        "before" => Some(before.to_owned()),
        "stored" | "straight" => Some(format!("{word}_{at}")),
        _ => None,
    };
    reworded(AFTER, renamed)
}

/// The uniform of effects in one pass: each one's own, from a multiple of 16 bytes on.
pub fn run_uniform<'a>(uniforms: impl IntoIterator<Item = &'a [u8]>) -> Vec<u8> {
    let mut bytes = Vec::new();
    for uniform in uniforms {
        bytes.extend_from_slice(uniform);
        bytes.resize(bytes.len().next_multiple_of(16), 0);
    }
    bytes
}

/// The names that a file declares: what stands after these words.
fn declared(source: &str) -> impl Iterator<Item = &str> {
    let names = words(source).filter_map(|(word, is_name)| is_name.then_some(word));
    names.scan("", |before, word| Some((std::mem::replace(before, word), word))).filter_map(
        |(before, word)| ["fn", "struct", "const", "alias", "override"].contains(&before).then_some(word),
    )
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
