//! The shader of runs of effects, of which each picture takes one: in one pass with others, and perhaps fingerprinted in
//! it in place of being stored.

use std::fmt::Write;
use std::sync::Arc;

use super::Effect;
use super::shader::{
    COLOUR, FRAME, FRAME_OF_ANY, NO_PAST, OPAQUE_COLOUR, OUTPUT, PASS, SIZE_OF_PICTURE, Workgroup, after,
    named_apart, pixel_text, target,
};
use crate::base::frame::PixelMode;

const FINGERPRINT: &str = include_str!("../../shaders/shared/fingerprint.wgsl");

/// What becomes of the texels of a run's picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Ending {
    /// They are stored.
    Stored,
    /// They are fingerprinted as they leave the program, and let go.
    Fingerprinted,
}

/// Runs of effects that one dispatch carries out, each on pictures of its own.
#[derive(Debug, Clone)]
pub struct Runs {
    /// One or more, each of one effect or more, first applied first; of several in [`PixelMode::Encoded8Bit`] alone, where
    /// the rounding between two effects is the shader's own. One that remembers stands alone, and begins there.
    pub runs: Vec<Vec<Arc<Effect>>>,
    /// Whether what they read has full alpha everywhere, and they keep it: then nothing is divided by it.
    pub opaque: bool,
    /// What becomes of their pictures.
    pub ending: Ending,
}

/// The shader of runs, byte for byte what one pass an effect would store; its entry point is `pass_main` where pictures are
/// stored and `fingerprint_main` elsewhere, its uniform [`run_uniform`](super::run_uniform)'s of all effects of all runs in turn.
pub fn runs_shader(runs: &Runs, pixels: PixelMode, workgroup: Workgroup) -> String {
    let mut parts = Vec::new();
    let mut members = String::new();
    let mut at = 0;
    for (nth, run) in runs.runs.iter().enumerate() {
        let mut before = "picture_texel".to_owned();
        for effect in run {
            parts.extend(named_apart(effect, at));
            parts.push(after(at, &before));
            before = format!("step_texel_{at}");
            parts.push(format!("fn {before}(at: vec2i) -> vec4f {{ return result_at_{at}(at); }}"));
            // Writing into a string cannot fail.
            let _ = writeln!(members, "    @align(16) of_{at}: Settings_{at},");
            at += 1;
        }
        parts.push(match runs.ending {
            Ending::Stored => workgroup.rows_taken(&format!("take_rows_{nth}"), &before),
            Ending::Fingerprinted => {
                let held = format!("quantised({before}(at))");
                // With full alpha bytes leave the program as they are held.
                let given_out = match (runs.opaque, pixels) {
                    (true, PixelMode::Encoded8Bit) => format!("vec4f({held}.rgb, 1.0)"),
                    _ => format!("output_of({held})"),
                };
                format!(
                    "fn given_out_{nth}(at: vec2i) -> vec4f {{ return {given_out}; }}\n{}",
                    workgroup.band_summed(&format!("band_{nth}"), &format!("given_out_{nth}"))
                )
            }
        });
    }
    parts.push(format!("struct Settings {{\n{members}}}"));
    parts.push(
        "fn picture_texel(at: vec2i) -> vec4f { return textureLoad(picture, at, layer, 0); }".to_owned(),
    );
    let taken = |call: &dyn Fn(usize) -> String| one_of(runs.runs.len(), call);
    parts.push(match runs.ending {
        Ending::Stored => format!(
            "{}\n{PASS}\nfn take_rows(at: vec2i, into_layer: u32) {{\n{}}}",
            target(pixels),
            taken(&|nth| format!("take_rows_{nth}(at, into_layer);"))
        ),
        Ending::Fingerprinted => format!(
            "{OUTPUT}\n{FINGERPRINT}\nfn band(first: vec2i) -> vec4u {{\n{}}}",
            taken(&|nth| format!("return band_{nth}(first);"))
        ),
    });
    if runs.runs.iter().flatten().any(|effect| effect.remembers()) {
        parts.push(NO_PAST.to_owned());
    }
    let colour = if runs.opaque { OPAQUE_COLOUR } else { COLOUR };
    parts.extend([FRAME_OF_ANY, colour, pixel_text(pixels), SIZE_OF_PICTURE].map(str::to_owned));
    parts.push(workgroup.constants());
    parts.join("\n")
}

/// What is done for the run that a picture takes.
fn one_of(runs: usize, call: &dyn Fn(usize) -> String) -> String {
    let last = runs.saturating_sub(1);
    if last == 0 {
        return format!("    {}\n", call(0));
    }
    let cases: String = (0..last).map(|nth| format!("        case {nth}u: {{ {} }}\n", call(nth))).collect();
    format!("    switch run_taken {{\n{cases}        default: {{ {} }}\n    }}\n", call(last))
}

/// The shader that fingerprints stored pictures; its entry point is `fingerprint_main`.
pub fn fingerprint_shader(pixels: PixelMode, workgroup: Workgroup, is_given_out: bool) -> String {
    let given_out = match is_given_out {
        // However an adapter decodes a byte, the nearest whole one is meant.
        true => {
            "fn given_out(at: vec2i) -> vec4f { return textureLoad(picture, min(at, frame_size() - 1), layer, 0); }"
        }
        false => "fn given_out(at: vec2i) -> vec4f { return output_of(stored(at)); }",
    };
    [
        "struct Settings {\n    none: u32,\n}",
        given_out,
        FRAME,
        COLOUR,
        pixel_text(pixels),
        OUTPUT,
        SIZE_OF_PICTURE,
        FINGERPRINT,
        &workgroup.band_summed("band", "given_out"),
    ]
    .join("\n")
}
