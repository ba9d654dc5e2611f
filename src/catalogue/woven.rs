//! The shader of a pass that carries out several steps: what it does to a texel, and the pictures that it reads.

use std::sync::Arc;

use super::shader::{COLOUR, Workgroup, after, named_apart, pixel_text, target};
use super::{Effect, Reach};
use crate::base::frame::PixelMode;

const LAID: &str = include_str!("../../shaders/shared/laid.wgsl");
const WOVEN: &str = include_str!("../../shaders/shared/woven.wgsl");

/// What a step of a pass reads, by number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Thread {
    /// A stored picture.
    Picture(usize),
    /// What a step before it in the pass gives.
    Step(usize),
}

impl Thread {
    /// The function that gives a texel of it.
    fn function(self) -> String {
        match self {
            Self::Picture(at) => format!("picture_texel_{at}"),
            Self::Step(at) => format!("step_texel_{at}"),
        }
    }
}

/// A step of a pass.
#[derive(Debug, Clone)]
pub enum WovenStep {
    /// An effect, or a generated source, which reads nothing.
    Effect(Arc<Effect>, Option<Thread>),
    /// One picture over another.
    Lay {
        /// The place of the blend mode in `BlendMode::ALL`.
        mode: u32,
        backdrop: Thread,
        source: Thread,
    },
}

/// Steps that a texel goes through in one pass; the last one's texel is stored.
#[derive(Debug, Clone)]
pub struct Woven {
    /// One or more, each with whether it gives full alpha everywhere.
    pub steps: Vec<(WovenStep, bool)>,
    /// Stored pictures that are read, by whether they have full alpha everywhere.
    pub pictures: Vec<bool>,
    /// Which of them have a layer for each that is made; of the others the first is read.
    pub layered: Vec<bool>,
}

/// The shader of woven steps, byte for byte what one pass each would store; its entry point is `pass_main`, its uniform
/// [`run_uniform`](super::run_uniform)'s, with the opacity for what is laid.
///
/// Only for [`PixelMode::Encoded8Bit`], as [`runs_shader`](super::runs_shader). How a picture is laid stands in the text,
/// as a processor works out every case of a choice for each texel; so does full alpha, by which nothing is divided then.
pub fn woven_shader(woven: &Woven, workgroup: Workgroup) -> String {
    let mut parts = Vec::new();
    let mut members = String::new();
    let given = |text: String, is_opaque: bool| {
        if is_opaque { format!("vec4f({text}.rgb, 1.0)") } else { text }
    };
    for (at, (step, is_opaque)) in woven.steps.iter().enumerate() {
        match step {
            WovenStep::Effect(effect, from) => {
                parts.extend(named_apart(effect, at));
                if let Some(from) = from.filter(|_| effect.reach != Reach::Source) {
                    parts.push(after(at, &from.function()));
                }
            }
            WovenStep::Lay { mode, backdrop, source } => {
                let [backdrop, source] = [backdrop, source].map(|thread| thread.function());
                parts.push(format!(
                    "struct Settings_{at} {{\n    opacity: f32,\n}}\n
fn result_at_{at}(at: vec2i) -> vec4f {{
    return laid(quantised({backdrop}(at)), quantised({source}(at)), {mode}u, settings.of_{at}.opacity);
}}"
                ));
            }
        }
        let texel = given(format!("result_at_{at}(at)"), *is_opaque);
        parts.push(format!("fn step_texel_{at}(at: vec2i) -> vec4f {{ return {texel}; }}"));
        members += &format!("    @align(16) of_{at}: Settings_{at},\n");
    }
    parts.push(format!("struct Settings {{\n{members}}}"));
    parts
        .push(format!("fn woven(at: vec2i) -> vec4f {{ return step_texel_{}(at); }}", woven.steps.len() - 1));
    let pictures = woven.pictures.len();
    for (at, is_opaque) in woven.pictures.iter().enumerate() {
        let layer = if woven.layered.get(at) == Some(&true) { "woven_layer" } else { "0" };
        let texel = given(format!("textureLoad(picture_{at}, at, {layer}, 0)"), *is_opaque);
        parts.push(format!(
            "@group(0) @binding({at}) var picture_{at}: texture_2d_array<f32>;
fn picture_texel_{at}(at: vec2i) -> vec4f {{ return {texel}; }}"
        ));
    }
    parts.push(format!(
        "@group(0) @binding({pictures}) var<uniform> settings: Settings;
@group(0) @binding({}) var result: Target;
@group(0) @binding({}) var<storage, read> areas: array<Area>;",
        pictures + 1,
        pictures + 2,
    ));
    parts.extend([LAID, COLOUR, pixel_text(PixelMode::Encoded8Bit)].map(str::to_owned));
    parts.push(target(PixelMode::Encoded8Bit).to_owned());
    parts.push(workgroup.constants());
    parts.push(WOVEN.to_owned());
    parts.join("\n")
}
