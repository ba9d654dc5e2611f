//! One compute pipeline a program, made once.

use std::collections::HashMap;
use std::rc::Rc;
use std::sync::{Arc, OnceLock};
use std::time::Duration;

use super::Gpu;
use crate::base::at_once::at_once;
use crate::base::clock::Since;
use crate::base::doing::doing_untold;
use crate::base::frame::{Frame, PixelMode};
use crate::catalogue::{
    Channels, Content, Effect, Ending, Reach, Runs, Workgroup, Woven, WovenStep, assembled,
    fingerprint_shader, index_map_shader, layout, past_shader, plain_pass, plain_shader, runs_shader,
    shader_of_each, woven_shader,
};
use crate::measure::Trait;
use crate::order::Tree;
use crate::plan::Path;
use crate::plan::sharing::Sharing;

/// What a dispatch runs.
#[derive(Debug, Clone, Copy)]
pub(super) enum Program<'a> {
    /// An effect or a generated source.
    Effect(&'a Effect),
    /// An effect that remembers, over its own last output.
    Past(&'a Effect),
    /// An effect with settings of its own for every picture.
    OfEach(&'a Effect),
    /// The same of one that remembers, over its own last output.
    PastOfEach(&'a Effect),
    /// Runs of effects, of which each picture takes one.
    Runs(&'a Runs),
    /// Several steps of a frame in one pass.
    Woven(&'a Woven),
    /// The index map of a move.
    IndexMap(&'a Effect),
    /// Bytes of a file into a picture.
    TakeIn,
    /// No light.
    Fill,
    /// One picture over another.
    Lay,
    /// A picture into bytes.
    GiveOut,
    /// One byte of each channel of a picture held in floats.
    Halved,
    /// A picture in floats from its two halves.
    Joined,
    /// A picture into bytes at the size of a tile, each of whose texels covers so many whole ones, if it does.
    Shrink(Form, Option<[u32; 2]>),
    /// 128 bits that stand for a picture.
    Fingerprint(Form),
    /// How far pictures are from a picture given out: held pictures, or such as are given out too.
    Difference(Form),
    /// The sums of it alone: no bins.
    DifferenceSums(Form),
    /// One trait of held pictures.
    Traits(Trait),
    /// How light the blocks of a picture given out are.
    Lightness,
    /// The difference texel by texel, of two pictures given out.
    DifferencePicture,
    /// CIEDE2000 of colours given in L*a*b*.
    LabPairs,
    /// Sums of small pictures in CIELAB.
    LabSums,
    /// How far means of such sums are apart.
    BetweenMeans,
    /// How far small pictures are from such means.
    FromMeans,
}

/// In which form a picture is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Form {
    /// As it is held between effects.
    Held,
    /// As it leaves the program.
    GivenOut,
}

impl Form {
    /// That in which the finished pictures of a path stand, whatever the order of its chain: bytes that cover all behind
    /// them leave the program as they are held.
    pub(super) fn finished(path: &Path) -> Self {
        let is_whole = path.moment.pixels == PixelMode::Encoded8Bit && path.covers_all();
        if is_whole { Self::GivenOut } else { Self::Held }
    }

    /// How a texel of this form is read as it leaves the program.
    fn reading(self) -> &'static str {
        match self {
            Self::Held => "fn read_out(c: vec4f) -> vec4f { return output_texel(c); }",
            Self::GivenOut => "fn read_out(c: vec4f) -> vec4f { return byte_rounded(c); }",
        }
    }
}

/// Which bindings a program has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Bindings {
    /// Picture, settings, result of the given format, jobs.
    Picture(wgpu::TextureFormat),
    /// Picture, settings, result of the given format, jobs, last output.
    PictureAndPast(wgpu::TextureFormat),
    /// Backdrop, source, settings, result of the given format, jobs.
    TwoPictures(wgpu::TextureFormat),
    /// So many pictures, settings, result as pictures in 8 bits are held, jobs.
    Woven(usize),
    /// Picture, settings, a buffer for figures, jobs.
    Figures,
    /// Picture, reference, settings, a buffer for figures, jobs.
    FiguresOfTwo,
}

/// The format that holds pictures between effects.
pub(super) fn held_format(pixels: PixelMode) -> wgpu::TextureFormat {
    match pixels {
        PixelMode::Encoded8Bit => wgpu::TextureFormat::Rgba8Unorm,
        PixelMode::LinearFloat => wgpu::TextureFormat::Rgba16Float,
    }
}

/// The format of what leaves the program.
pub(super) const BYTES: wgpu::TextureFormat = wgpu::TextureFormat::Rgba8Unorm;

const DIFFERENCE: &str = include_str!("../../shaders/shared/difference.wgsl");
const CIEDE2000: &str = include_str!("../../shaders/shared/ciede2000.wgsl");
const SMALL_LAB: &str = include_str!("../../shaders/shared/small_lab.wgsl");
const MEANS: &str = include_str!("../../shaders/shared/means.wgsl");

/// What `traits.wgsl` calls it.
fn trait_name(wanted: Trait) -> &'static str {
    match wanted {
        Trait::Brightness => "BRIGHTNESS",
        Trait::Edges => "EDGES",
        Trait::Colour => "COLOUR",
    }
}

impl<'a> Program<'a> {
    /// Of an effect, over its own last output where there is one.
    pub(super) fn of_effect(effect: &'a Effect, has_last: bool) -> Self {
        if has_last { Self::Past(effect) } else { Self::Effect(effect) }
    }
}

impl Program<'_> {
    pub(super) fn bindings(self, pixels: PixelMode) -> Bindings {
        match self {
            Self::Effect(_) | Self::OfEach(_) | Self::TakeIn | Self::Fill => {
                Bindings::Picture(held_format(pixels))
            }
            Self::Runs(runs) => match runs.ending {
                Ending::Stored => Bindings::Picture(held_format(pixels)),
                Ending::Fingerprinted => Bindings::Figures,
            },
            Self::Past(_) | Self::PastOfEach(_) => Bindings::PictureAndPast(held_format(pixels)),
            Self::Lay | Self::Joined => Bindings::TwoPictures(held_format(pixels)),
            Self::Woven(woven) => Bindings::Woven(woven.pictures.len()),
            Self::DifferencePicture => Bindings::TwoPictures(BYTES),
            Self::Difference(_) | Self::DifferenceSums(_) => Bindings::FiguresOfTwo,
            Self::GiveOut | Self::Halved | Self::Shrink(..) => Bindings::Picture(BYTES),
            Self::Fingerprint(_)
            | Self::Lightness
            | Self::Traits(_)
            | Self::IndexMap(_)
            | Self::LabPairs
            | Self::LabSums
            | Self::BetweenMeans
            | Self::FromMeans => Bindings::Figures,
        }
    }

    /// What tells programs apart: the text of the effects' files, which may change while the program runs.
    fn key(self) -> String {
        let of = |effect: &Effect| format!("{} {}", effect.name, effect.content);
        match self {
            Self::Effect(effect) => of(effect),
            Self::Past(effect) => format!("past {}", of(effect)),
            Self::OfEach(effect) => format!("each {}", of(effect)),
            Self::PastOfEach(effect) => format!("each past {}", of(effect)),
            Self::Runs(runs) => {
                let run = |run: &Vec<Arc<Effect>>| {
                    run.iter().map(|effect| of(effect)).collect::<Vec<_>>().join(", then ")
                };
                let each = runs.runs.iter().map(run).collect::<Vec<_>>().join(", or ");
                format!("{:?} {} {each}", runs.ending, runs.opaque)
            }
            Self::IndexMap(effect) => format!("map {}", of(effect)),
            Self::Woven(woven) => {
                let step = |(step, is_opaque): &(WovenStep, bool)| match step {
                    WovenStep::Effect(effect, from) => format!("{} of {from:?} {is_opaque}", of(effect)),
                    lay => format!("{lay:?} {is_opaque}"),
                };
                let steps = woven.steps.iter().map(step).collect::<Vec<_>>().join(", ");
                format!("woven {steps} over {:?} {:?}", woven.pictures, woven.layered)
            }
            other => format!("{other:?}"),
        }
    }

    /// The effects' files that it is made of, and what stands for their text.
    fn made_of(self) -> Vec<(String, Content)> {
        let of = |effect: &Effect| (effect.origin.clone(), effect.content);
        match self {
            Self::Effect(effect)
            | Self::Past(effect)
            | Self::OfEach(effect)
            | Self::PastOfEach(effect)
            | Self::IndexMap(effect) => vec![of(effect)],
            Self::Runs(runs) => runs.runs.iter().flatten().map(|effect| of(effect)).collect(),
            Self::Woven(woven) => {
                let effects = woven.steps.iter().filter_map(|(step, _)| match step {
                    WovenStep::Effect(effect, _) => Some(of(effect)),
                    WovenStep::Lay { .. } => None,
                });
                effects.collect()
            }
            _ => Vec::new(),
        }
    }

    /// Columns and rows that one workgroup takes.
    pub(super) fn texels(self, workgroup: Workgroup) -> [u32; 2] {
        match self {
            // 64 columns by a band of 32 rows.
            Self::Fingerprint(_)
            | Self::Difference(_)
            | Self::DifferenceSums(_)
            | Self::Traits(_)
            | Self::BetweenMeans
            | Self::FromMeans => [64, 32],
            Self::Runs(runs) if runs.ending == Ending::Fingerprinted => [64, 32],
            // One invocation of a pass takes several rows.
            _ if self.entry_point() == "pass_main" => [workgroup.width, workgroup.height * workgroup.rows],
            _ => [workgroup.width, workgroup.height],
        }
    }

    pub(super) fn entry_point(self) -> &'static str {
        match self {
            Self::Effect(_)
            | Self::Past(_)
            | Self::OfEach(_)
            | Self::PastOfEach(_)
            | Self::Woven(_)
            | Self::TakeIn
            | Self::Fill
            | Self::GiveOut
            | Self::Halved => "pass_main",
            Self::Runs(runs) => match runs.ending {
                Ending::Stored => "pass_main",
                Ending::Fingerprinted => "fingerprint_main",
            },
            Self::IndexMap(_) => "index_map_main",
            Self::Lay => "blend_main",
            Self::Joined => "joined_main",
            Self::Shrink(..) => "shrink_main",
            Self::Fingerprint(_) => "fingerprint_main",
            Self::Difference(_) | Self::DifferenceSums(_) => "difference_main",
            Self::Lightness => "lightness_main",
            Self::Traits(_) => "traits_main",
            Self::DifferencePicture => "difference_picture_main",
            Self::LabPairs => "lab_pairs_main",
            Self::LabSums => "lab_sums_main",
            Self::BetweenMeans => "between_means_main",
            Self::FromMeans => "from_means_main",
        }
    }

    pub(super) fn shader(self, pixels: PixelMode, workgroup: Workgroup) -> String {
        let pass = |text| plain_pass(text, pixels, pixels, workgroup);
        let plain = |text| plain_shader(text, pixels, workgroup);
        match self {
            Self::Effect(effect) => assembled(effect, pixels, workgroup),
            Self::Past(effect) => past_shader(effect, pixels, workgroup),
            Self::OfEach(effect) => shader_of_each(effect, false, pixels, workgroup),
            Self::PastOfEach(effect) => shader_of_each(effect, true, pixels, workgroup),
            Self::Runs(runs) => runs_shader(runs, pixels, workgroup),
            Self::Woven(woven) => woven_shader(woven, workgroup),
            Self::IndexMap(effect) => index_map_shader(effect, workgroup),
            Self::TakeIn => pass(include_str!("../../shaders/shared/take_in.wgsl")),
            Self::Fill => pass(include_str!("../../shaders/shared/fill.wgsl")),
            // The result is bytes in both pixel modes.
            Self::GiveOut => {
                let text = include_str!("../../shaders/shared/give_out.wgsl");
                plain_pass(text, pixels, PixelMode::Encoded8Bit, workgroup)
            }
            Self::Halved => {
                let text = include_str!("../../shaders/shared/halved.wgsl");
                plain_pass(text, pixels, PixelMode::Encoded8Bit, workgroup)
            }
            Self::Joined => plain(include_str!("../../shaders/shared/joined.wgsl")),
            Self::Lay => plain(
                &[
                    include_str!("../../shaders/shared/blend.wgsl"),
                    include_str!("../../shaders/shared/laid.wgsl"),
                ]
                .join("\n"),
            ),
            Self::Shrink(form, covers) => {
                let [across, down] = covers.unwrap_or_default();
                let constants = format!("const ACROSS = {across}u;\nconst DOWN = {down}u;");
                let text = include_str!("../../shaders/shared/shrink.wgsl");
                plain(&[text, form.reading(), &constants].join("\n"))
            }
            Self::Fingerprint(form) => fingerprint_shader(pixels, workgroup, form == Form::GivenOut),
            Self::Difference(form) => {
                plain(&[DIFFERENCE, CIEDE2000, form.reading(), "const BINS = 808u;"].join("\n"))
            }
            Self::DifferenceSums(form) => {
                plain(&[DIFFERENCE, CIEDE2000, form.reading(), "const BINS = 1u;"].join("\n"))
            }
            Self::Lightness => {
                plain(&[include_str!("../../shaders/shared/lightness.wgsl"), CIEDE2000].join("\n"))
            }
            Self::Traits(wanted) => {
                let constants =
                    format!("const TRAIT = {};\nconst STEPS = {}.0;", trait_name(wanted), wanted.steps());
                plain(&[include_str!("../../shaders/shared/traits.wgsl"), CIEDE2000, &constants].join("\n"))
            }
            Self::DifferencePicture => {
                let text = include_str!("../../shaders/shared/difference_picture.wgsl");
                plain(&[text, CIEDE2000].join("\n"))
            }
            Self::LabPairs => {
                plain(&[include_str!("../../shaders/shared/lab_pairs.wgsl"), CIEDE2000].join("\n"))
            }
            Self::LabSums => {
                let text = include_str!("../../shaders/shared/lab_sums.wgsl");
                plain(&[text, SMALL_LAB, CIEDE2000].join("\n"))
            }
            Self::BetweenMeans => {
                plain(&[include_str!("../../shaders/shared/between_means.wgsl"), MEANS].join("\n"))
            }
            Self::FromMeans => {
                let text = include_str!("../../shaders/shared/from_means.wgsl");
                plain(&[text, MEANS, SMALL_LAB, CIEDE2000].join("\n"))
            }
        }
    }
}

/// A program's pipeline, from when it is first recorded: it is compiled when what was recorded is sent, together with all
/// others that are new then.
#[derive(Debug)]
pub(super) struct Compiled {
    pipeline: OnceLock<wgpu::ComputePipeline>,
    label: String,
    shader: String,
    entry_point: &'static str,
    layout: wgpu::BindGroupLayout,
    /// The files that it is made of.
    of: Vec<(String, Content)>,
}

impl Compiled {
    /// The pipeline, once it is compiled.
    pub(super) fn pipeline(&self) -> Option<&wgpu::ComputePipeline> {
        self.pipeline.get()
    }

    fn compile(&self, device: &wgpu::Device) {
        let label = Some(&*self.label);
        let module = device.create_shader_module(wgpu::ShaderModuleDescriptor {
            label,
            source: wgpu::ShaderSource::Wgsl((&*self.shader).into()),
        });
        let layout = device.create_pipeline_layout(&wgpu::PipelineLayoutDescriptor {
            label,
            bind_group_layouts: &[Some(&self.layout)],
            immediate_size: 0,
        });
        self.pipeline.get_or_init(|| {
            device.create_compute_pipeline(&wgpu::ComputePipelineDescriptor {
                label,
                layout: Some(&layout),
                module: &module,
                entry_point: Some(self.entry_point),
                compilation_options: wgpu::PipelineCompilationOptions {
                    // Every shader writes workgroup memory before it reads it, or counts on zeros: keep them.
                    zero_initialize_workgroup_memory: true,
                    ..Default::default()
                },
                cache: None,
            })
        });
    }
}

/// How a tree was carried out the last time: most are explored again, moment by moment or piece by piece.
#[derive(Debug)]
pub(super) struct Known {
    /// The tree over these effects, at this size, and whether what is finished might not be stored.
    pub(super) of: (Tree, Vec<Content>, Frame, PixelMode, bool),
    pub(super) by: (Sharing, bool),
    /// The tree as it was fused, if it was, and whether what is finished was not stored.
    pub(super) shared: (Option<Rc<Tree>>, bool),
}

/// The pipelines and bind group layouts made so far.
#[derive(Debug, Default)]
pub(super) struct Pipelines {
    made: HashMap<(String, PixelMode), Arc<Compiled>>,
    /// Those that are recorded and not compiled yet.
    wanted: Vec<Arc<Compiled>>,
    /// How long compiling has taken until now.
    pub(super) compiling: Duration,
    layouts: HashMap<Bindings, wgpu::BindGroupLayout>,
    /// By the program's key: whether its shader is right.
    right: HashMap<String, bool>,
    pub(super) known: Option<Known>,
}

impl Pipelines {
    /// Whether these effects may run in one pass: where each effect after the first reads one texel
    /// of the one before it (or three, of something cheap), so that fusing saves more than it repeats.
    pub(super) fn may_run(&mut self, gpu: &Gpu, run: &[Arc<Effect>]) -> bool {
        let mut reads = 1;
        let mut costly = false;
        for (at, effect) in run.iter().enumerate() {
            match effect.reach {
                Reach::Texel => {}
                Reach::Move if effect.channels == Channels::Together => {}
                // Its own reads are its own business; what stands before it is read three times.
                Reach::Move => reads *= if at == 0 { 1 } else { 3 },
                Reach::Neighbourhood { .. } if at == 0 => costly = true,
                Reach::Neighbourhood { .. } | Reach::PastFrames | Reach::Source => return false,
            }
        }
        let alone = Runs { runs: vec![run.to_vec()], opaque: false, ending: Ending::Stored };
        reads <= if costly { 1 } else { 3 }
            && self.is_right(gpu, Program::Runs(&alone), PixelMode::Encoded8Bit)
    }

    /// Whether a program's shader is right: an effect of a person's own may declare names that do not bear being put
    /// together with others.
    pub(super) fn is_right(&mut self, gpu: &Gpu, program: Program<'_>, pixels: PixelMode) -> bool {
        let known = self.right.entry(program.key());
        *known.or_insert_with(|| layout::checked(&program.shader(pixels, gpu.workgroup)).is_ok())
    }

    pub(super) fn layout(&mut self, gpu: &Gpu, bindings: Bindings) -> wgpu::BindGroupLayout {
        self.layouts.entry(bindings).or_insert_with(|| made_layout(&gpu.device, bindings)).clone()
    }

    /// Whether a program is compiled already, which takes long on some drivers.
    pub(super) fn has(&self, program: Program<'_>, pixels: PixelMode) -> bool {
        self.made.get(&(program.key(), pixels)).is_some_and(|made| made.pipeline().is_some())
    }

    /// A program that is recorded, to be compiled by [`Self::compile`].
    pub(super) fn recorded(&mut self, gpu: &Gpu, program: Program<'_>, pixels: PixelMode) -> Arc<Compiled> {
        let key = (program.key(), pixels);
        if let Some(known) = self.made.get(&key) {
            return Arc::clone(known);
        }
        let of = program.made_of();
        // A file that reads otherwise now was changed: what was made of it before is not asked for again.
        let is_older = |(origin, content): &(String, Content)| {
            of.iter().any(|(other, now)| origin == other && content != now)
        };
        self.made.retain(|_, made| !made.of.iter().any(is_older));
        let made = Arc::new(Compiled {
            pipeline: OnceLock::new(),
            label: key.0.clone(),
            shader: program.shader(pixels, gpu.workgroup),
            entry_point: program.entry_point(),
            layout: self.layout(gpu, program.bindings(pixels)),
            of,
        });
        self.wanted.push(Arc::clone(&made));
        self.made.insert(key, Arc::clone(&made));
        made
    }

    /// Compiles what was recorded since the last time, on all processors.
    pub(super) fn compile(&mut self, gpu: &Gpu) {
        if !self.wanted.is_empty() {
            let _compiling = doing_untold("compiling programs");
            let began = Since::now();
            let device = &gpu.device;
            at_once(&std::mem::take(&mut self.wanted), |wanted| wanted.compile(device));
            self.compiling += began.elapsed();
        }
    }
}

/// What stands at one place of a program's bindings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Binding {
    Picture,
    Settings,
    Result(wgpu::TextureFormat),
    Figures,
    Jobs,
}

impl Bindings {
    /// Each of them, in order.
    pub(super) fn list(self) -> Vec<Binding> {
        use Binding::{Figures, Jobs, Picture, Result, Settings};
        match self {
            Self::Picture(format) => vec![Picture, Settings, Result(format), Jobs],
            // A last output is bound behind everything else.
            Self::PictureAndPast(format) => vec![Picture, Settings, Result(format), Jobs, Picture],
            Self::TwoPictures(format) => vec![Picture, Picture, Settings, Result(format), Jobs],
            Self::Woven(pictures) => {
                let read = std::iter::repeat_n(Picture, pictures);
                read.chain([Settings, Result(BYTES), Jobs]).collect()
            }
            Self::Figures => vec![Picture, Settings, Figures, Jobs],
            Self::FiguresOfTwo => vec![Picture, Picture, Settings, Figures, Jobs],
        }
    }
}

fn made_layout(device: &wgpu::Device, bindings: Bindings) -> wgpu::BindGroupLayout {
    let buffer =
        |ty, has_dynamic_offset| wgpu::BindingType::Buffer { ty, has_dynamic_offset, min_binding_size: None };
    let type_of = |binding| match binding {
        Binding::Picture => wgpu::BindingType::Texture {
            sample_type: wgpu::TextureSampleType::Float { filterable: false },
            view_dimension: wgpu::TextureViewDimension::D2Array,
            multisampled: false,
        },
        Binding::Settings => buffer(wgpu::BufferBindingType::Uniform, true),
        Binding::Result(format) => wgpu::BindingType::StorageTexture {
            access: wgpu::StorageTextureAccess::WriteOnly,
            format,
            view_dimension: wgpu::TextureViewDimension::D2Array,
        },
        Binding::Figures => buffer(wgpu::BufferBindingType::Storage { read_only: false }, false),
        Binding::Jobs => buffer(wgpu::BufferBindingType::Storage { read_only: true }, true),
    };
    let entries: Vec<_> = bindings
        .list()
        .into_iter()
        .zip(0..)
        .map(|(one, binding)| wgpu::BindGroupLayoutEntry {
            binding,
            visibility: wgpu::ShaderStages::COMPUTE,
            ty: type_of(one),
            count: None,
        })
        .collect();
    device.create_bind_group_layout(&wgpu::BindGroupLayoutDescriptor { label: None, entries: &entries })
}
