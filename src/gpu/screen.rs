//! Pictures for the screen: made a few passes at a time, kept while there is room, never read back.
//!
//! A picture is known by how it was made: by which effect with which settings,
//! from which pictures. Two recipes that share a beginning share its pictures,
//! whether they belong to the path, to the wall or to an order being tried.

use std::collections::{HashMap, VecDeque};
use std::rc::Rc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Weak};
use std::time::Duration;

use super::made::MadeBy;
use super::pipelines::{BYTES, Form, Program, held_format};
use super::recording::Recording;
use super::renderer::Renderer;
use super::texture_array::TextureArray;
use super::{Gpu, GpuError};
use crate::base::clock::Since;
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::base::recent::Recent;
use crate::beat::Moment;
use crate::order::Job;
use crate::plan::{Path, Slot, Step, remembered};
use crate::show::chain::PastId;
use crate::show::{BlendMode, Mix};

/// What one slice of work should take on the GPU: short enough that input is answered meanwhile.
const SLICE: Duration = Duration::from_millis(10);
/// Texels of one pass a millisecond that are assumed before the first slice was timed.
const FIRST_PACE: f64 = 20_000.0;
/// Bytes of pictures between effects that are kept.
const KEPT_BYTES: u64 = 512 << 20;
/// Bytes of finished pictures that are kept.
const SHOWN_BYTES: u64 = 256 << 20;

/// How a picture is made, from the footage on: steps as a plan has them.
#[derive(Debug, Clone)]
pub struct Recipe {
    steps: Vec<Step>,
    /// For each step of an effect that remembers, the step that made its last output.
    last: HashMap<Slot, Slot>,
    output: Slot,
    moment: Moment,
}

impl Recipe {
    /// The output of the show, with the path's chain in this order.
    pub fn output(path: &Path, order: &[usize]) -> Self {
        let mut recipe = Self { steps: Vec::new(), last: HashMap::new(), output: 0, moment: path.moment };
        let mut known: HashMap<PastId, Slot> = HashMap::new();
        for frame in path.frames() {
            let (steps, output) = frame.in_order(order);
            let is_own = frame.moment.number == path.moment.number;
            let needed = if is_own { vec![true; steps.len()] } else { remembered(&steps) };
            let mut place = vec![0; steps.len()];
            for (at, step) in steps.iter().enumerate().filter(|&(at, _)| needed[at]) {
                // A picture that is held is the one before.
                if let (Step::Apply { call, .. }, Some(id)) = (step, step.past())
                    && call.is_held()
                    && let Some(&last) = known.get(&id)
                {
                    place[at] = last;
                    continue;
                }
                place[at] = recipe.steps.len();
                if let Some(id) = step.past()
                    && let Some(last) = known.insert(id, place[at])
                {
                    recipe.last.insert(place[at], last);
                }
                recipe.steps.push(placed(step, &|slot| place[slot]));
            }
            recipe.output = place.get(output).copied().unwrap_or(output);
        }
        recipe
    }

    /// The picture that leaves the path's chain after the effects of `order`, which may be a part of it.
    pub fn after(path: &Path, order: &[usize]) -> Self {
        let chain = |path: &Path| Path { after: Vec::new(), past: Arc::default(), ..path.clone() };
        let chain = Path { past: path.past.iter().map(chain).collect(), ..chain(path) };
        let mut recipe = Self::output(&chain, order);
        if !path.opaque {
            recipe.lay_over_black();
        }
        recipe
    }

    /// How far two pictures are apart, four times as bright as it is.
    pub fn difference(a: &Self, b: &Self) -> Self {
        let mut steps = a.steps.clone();
        let shift = steps.len();
        steps.extend(b.steps.iter().map(|step| placed(step, &|slot| slot + shift)));
        let shifted = b.last.iter().map(|(slot, last)| (slot + shift, last + shift));
        let last = a.last.iter().map(|(&slot, &last)| (slot, last)).chain(shifted).collect();
        let mut recipe = Self { steps, last, output: 0, moment: a.moment };
        let lay = |blend| Mix { blend, opacity: 1.0 };
        let apart = recipe.lay(a.output, b.output + shift, lay(BlendMode::Difference));
        let twice = recipe.lay(apart, apart, lay(BlendMode::Add));
        recipe.output = recipe.lay(twice, twice, lay(BlendMode::Add));
        recipe
    }

    fn lay_over_black(&mut self) {
        let black = self.steps.len();
        self.steps.push(Step::Fill { alpha: 1.0, into: black });
        self.output = self.lay(black, self.output, Mix::default());
    }

    fn lay(&mut self, backdrop: Slot, source: Slot, mix: Mix) -> Slot {
        let into = self.steps.len();
        self.steps.push(Step::Lay { backdrop, source, mix, into });
        into
    }
}

/// The step, with its pictures in other places.
fn placed(step: &Step, place: &dyn Fn(Slot) -> Slot) -> Step {
    let mut step = step.clone();
    match &mut step {
        Step::TakeIn { into, .. } | Step::Generate { into, .. } | Step::Fill { into, .. } => {
            *into = place(*into);
        }
        Step::Apply { from, into, .. } => (*from, *into) = (place(*from), place(*into)),
        Step::Lay { backdrop, source, into, .. } => {
            (*backdrop, *source, *into) = (place(*backdrop), place(*source), place(*into));
        }
    }
    step
}

/// Stands for a picture on the screen: how it was made, and its size there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct ScreenKey {
    made: MadeBy,
    size: Frame,
}

/// A picture wanted on the screen.
#[derive(Debug, Clone)]
pub struct Wanted {
    recipe: Arc<Recipe>,
    /// For each step, what it makes.
    made: Arc<[MadeBy]>,
    /// What the picture is known by.
    pub key: ScreenKey,
}

impl Wanted {
    /// The same picture at another size.
    #[must_use]
    pub fn at(&self, size: Frame) -> Self {
        let key = ScreenKey { size, ..self.key };
        Self { recipe: Arc::clone(&self.recipe), made: Arc::clone(&self.made), key }
    }

    pub fn recipe(&self) -> &Recipe {
        &self.recipe
    }
}

/// A finished picture: a plain texture of sRGB-encoded bytes.
#[derive(Debug)]
pub struct OnScreen {
    /// What to paint with.
    pub view: wgpu::TextureView,
    pub(super) texture: wgpu::Texture,
}

/// The pictures made for the screen.
#[derive(Debug, Default)]
pub struct Screen {
    /// What pictures were made of; a turn is a pass over the wanted pictures.
    kept: Recent<MadeBy, Rc<TextureArray>>,
    /// The finished pictures, by the same turns.
    shown: Recent<ScreenKey, OnScreen>,
    gone: Vec<ScreenKey>,
    /// Tells decoded pictures apart, for as long as they live.
    footage: HashMap<usize, (Weak<Picture>, u64)>,
    next_footage: u64,
    /// Texels made and milliseconds taken, those of long ago counting less.
    pace: (f64, f64),
    slice: Option<Slice>,
    passes: u64,
}

/// Work on its way through the GPU.
#[derive(Debug)]
struct Slice {
    texels: f64,
    /// Microseconds that it took; 0 until it is done.
    took: Arc<AtomicU64>,
}

impl Screen {
    /// The picture of a recipe at a size of at most its frame's.
    pub fn wanted(&mut self, recipe: Recipe, size: Frame) -> Wanted {
        let moment = &recipe.moment;
        let mut made: Vec<MadeBy> = Vec::with_capacity(recipe.steps.len());
        // What each effect that remembers has been given, as far back as it remembers.
        let mut given: HashMap<Slot, VecDeque<(MadeBy, u64)>> = HashMap::new();
        for (at, step) in recipe.steps.iter().enumerate() {
            let own = match step {
                Step::TakeIn { picture, .. } => MadeBy::of(("take in", self.number_of(picture))),
                Step::Generate { call, .. } => {
                    MadeBy::of(("generate", &call.effect.name, call.effect.content, &call.uniform))
                }
                Step::Fill { alpha, .. } => MadeBy::of(("fill", alpha.to_bits())),
                Step::Apply { call, from, .. } => {
                    let own =
                        MadeBy::of((&call.effect.name, call.effect.content, &call.uniform, made[*from]));
                    match call.remembered(moment.pixels) {
                        None => own,
                        Some(frames) => {
                            let last = recipe.last.get(&at);
                            let mut window = last.and_then(|last| given.remove(last)).unwrap_or_default();
                            window.push_back((own, frames));
                            // Nothing outlasts the slowest fade of the frames that are left.
                            let most = match frames {
                                0 => 0,
                                _ => window.iter().map(|&(_, frames)| frames).max().unwrap_or(0),
                            };
                            while window.len() as u64 > most.saturating_add(1) {
                                window.pop_front();
                            }
                            let all = MadeBy::of(window.iter().map(|(made, _)| made).collect::<Vec<_>>());
                            given.insert(at, window);
                            all
                        }
                    }
                }
                Step::Lay { backdrop, source, mix, .. } => {
                    MadeBy::of((mix.blend, mix.opacity.to_bits(), made[*backdrop], made[*source]))
                }
            };
            made.push(MadeBy::of((own, moment.frame, moment.pixels)));
        }
        let frame = moment.frame;
        let size =
            Frame { width: size.width.clamp(1, frame.width), height: size.height.clamp(1, frame.height) };
        let key = ScreenKey { made: made[recipe.output], size };
        Wanted { recipe: Arc::new(recipe), made: made.into(), key }
    }

    /// How far two pictures are apart, four times as bright as it is.
    pub fn apart(&mut self, a: &Wanted, b: &Wanted) -> Wanted {
        self.wanted(Recipe::difference(&a.recipe, &b.recipe), a.recipe.moment.frame)
    }

    fn number_of(&mut self, picture: &Arc<Picture>) -> u64 {
        self.footage.retain(|_, (known, _)| known.strong_count() > 0);
        let next = self.next_footage;
        let (known, number) = self
            .footage
            .entry(Arc::as_ptr(picture) as usize)
            .or_insert_with(|| (Arc::downgrade(picture), next));
        if known.strong_count() > 0 && *number == next {
            self.next_footage += 1;
        }
        *number
    }

    /// A finished picture, if it is made; it is kept for as long as it is asked for.
    pub fn get(&mut self, key: ScreenKey) -> Option<&OnScreen> {
        self.shown.get(&key).map(|shown| &*shown)
    }

    /// Pictures let go since the last call.
    pub fn take_gone(&mut self) -> Vec<ScreenKey> {
        std::mem::take(&mut self.gone)
    }

    /// Passes rendered so far.
    pub fn passes(&self) -> u64 {
        self.passes
    }

    /// Whether the GPU is still at the last slice.
    pub fn is_busy(&mut self, gpu: &Gpu) -> bool {
        let Some(slice) = &self.slice else { return false };
        // Only tells what is done; a failure shows in the next slice.
        let _ = gpu.device.poll(wgpu::PollType::Poll);
        let took = slice.took.load(Ordering::Acquire);
        if took == 0 {
            return true;
        }
        // The first slices hold shader compilation; the sums forget them soon. A slice that seems to take
        // no time adds little to them.
        let (texels, millis) = self.pace;
        self.pace = (texels * 0.7 + slice.texels, millis * 0.7 + took as f64 / 1000.0);
        self.slice = None;
        false
    }

    /// Lets go of what has not been used for longest, past the room there is.
    fn let_go(&mut self) {
        let _ = self.kept.let_go(KEPT_BYTES, 1);
        // What the pass before showed may still be painted.
        self.gone.extend(self.shown.let_go(SHOWN_BYTES, 2));
    }
}

/// One slice being put together.
struct Making<'a> {
    recording: Recording,
    /// Finished bytes, and the texture that they are copied into.
    copies: Vec<(Rc<TextureArray>, wgpu::Texture)>,
    texels: f64,
    most_texels: f64,
    screen: &'a mut Screen,
}

impl Renderer {
    /// Makes wanted pictures, the foremost first, until a slice of work is full; gives
    /// whether some are still missing. Nothing is read back, and nothing is waited for.
    ///
    /// While the GPU is at an earlier slice, nothing is done.
    ///
    /// # Errors
    /// [`GpuError`] where the frame is too large or the GPU fails.
    pub fn make(&mut self, screen: &mut Screen, wanted: &[Wanted]) -> Result<bool, GpuError> {
        let is_missing = |screen: &Screen| wanted.iter().any(|one| !screen.shown.has(&one.key));
        if screen.is_busy(&self.gpu) {
            return Ok(is_missing(screen));
        }
        screen.kept.next_turn();
        screen.shown.next_turn();
        for one in wanted {
            let _ = screen.get(one.key);
        }
        let Some(first) = wanted.iter().find(|one| !screen.shown.has(&one.key)) else {
            return Ok(false);
        };
        let moment = first.recipe.moment;
        self.gpu.check_frame(moment.frame)?;
        let (texels, millis) = screen.pace;
        let pace = if millis > 0.0 { texels / millis } else { FIRST_PACE };
        let mut making = Making {
            recording: Recording::new(moment.pixels),
            copies: Vec::new(),
            texels: 0.0,
            most_texels: pace * SLICE.as_secs_f64() * 1000.0,
            screen,
        };
        for one in wanted {
            // A slice is of one pixel mode; another mode waits for its own.
            if one.recipe.moment.pixels != moment.pixels || making.screen.shown.has(&one.key) {
                continue;
            }
            if !self.make_one(&mut making, one)? {
                break;
            }
        }
        let Making { recording, copies, texels, .. } = making;
        let took = Arc::new(AtomicU64::new(0));
        let (sent, told) = (Since::now(), Arc::clone(&took));
        recording.submit_then(&self.gpu, &mut self.pipelines, |encoder| copy(encoder, &copies))?;
        self.gpu.queue.on_submitted_work_done(move || {
            told.store((sent.elapsed().as_micros() as u64).max(1), Ordering::Release);
        });
        screen.slice = Some(Slice { texels, took });
        screen.let_go();
        Ok(is_missing(screen))
    }

    /// Makes one picture; false where the slice is full before it is finished.
    fn make_one(&mut self, making: &mut Making<'_>, wanted: &Wanted) -> Result<bool, GpuError> {
        let recipe = &wanted.recipe;
        let frame = recipe.moment.frame;
        for slot in missing(making.screen, wanted) {
            // The first pass is always taken, so that every slice comes further.
            if making.texels > 0.0 && making.texels + frame.texels() as f64 > making.most_texels {
                return Ok(false);
            }
            let step = &recipe.steps[slot];
            // Made meanwhile, by a step that makes the same.
            if making.screen.kept.has(&wanted.made[slot]) {
                continue;
            }
            // A program that is new to the driver takes as long as many passes: it gets a slice of its own.
            let program = match step {
                Step::Apply { call, .. } => Program::of_effect(&call.effect, recipe.last.contains_key(&slot)),
                step => program_of(step),
            };
            let is_new = !self.pipelines.has(program, recipe.moment.pixels);
            if is_new && making.texels > 0.0 {
                return Ok(false);
            }
            let mut read = Vec::with_capacity(2);
            for from in step.reads() {
                read.push(kept(making.screen, wanted.made[from])?);
            }
            if let Some(last) = recipe.last.get(&slot) {
                read.push(kept(making.screen, wanted.made[*last])?);
            }
            let result = self.array(frame, 1, held_format(recipe.moment.pixels));
            self.record_step(&mut making.recording, step, read, &result)?;
            making.texels += frame.texels() as f64;
            making.screen.passes += 1;
            let bytes = result.bytes();
            making.screen.kept.insert(wanted.made[slot], result, bytes);
        }
        // Shrinking reads every texel of the frame, as giving out does: it counts as a pass does.
        if making.texels > 0.0 && making.texels + frame.texels() as f64 > making.most_texels {
            return Ok(false);
        }
        making.texels += frame.texels() as f64;
        let finished = kept(making.screen, wanted.key.made)?;
        let size = wanted.key.size;
        let bytes = self.array(size, 1, BYTES);
        if size == frame {
            self.record_given_out(&mut making.recording, finished, &bytes);
        } else {
            self.record_shrink(
                &mut making.recording,
                &finished,
                &bytes,
                &[Job { from_layer: 0, into_layer: 0 }],
                Form::Held,
            );
        }
        let texture = self.plain_texture(size);
        let view = texture.create_view(&wgpu::TextureViewDescriptor::default());
        making.copies.push((bytes, texture.clone()));
        making.screen.shown.insert(wanted.key, OnScreen { view, texture }, size.texels() * 4);
        Ok(true)
    }

    /// A texture of one layer: what paints the interface samples no arrays.
    fn plain_texture(&self, size: Frame) -> wgpu::Texture {
        self.gpu.device.create_texture(&wgpu::TextureDescriptor {
            label: Some("on screen"),
            size: wgpu::Extent3d { width: size.width, height: size.height, depth_or_array_layers: 1 },
            mip_level_count: 1,
            sample_count: 1,
            dimension: wgpu::TextureDimension::D2,
            format: BYTES,
            usage: wgpu::TextureUsages::TEXTURE_BINDING
                | wgpu::TextureUsages::COPY_DST
                | wgpu::TextureUsages::COPY_SRC,
            view_formats: &[],
        })
    }
}

/// Copies finished bytes into the textures that are painted with.
fn copy(encoder: &mut wgpu::CommandEncoder, copies: &[(Rc<TextureArray>, wgpu::Texture)]) {
    for (array, texture) in copies {
        let size =
            wgpu::Extent3d { width: array.frame.width, height: array.frame.height, depth_or_array_layers: 1 };
        encoder.copy_texture_to_texture(array.texture.as_image_copy(), texture.as_image_copy(), size);
    }
}

/// What renders a step.
fn program_of(step: &Step) -> Program<'_> {
    match step {
        Step::TakeIn { .. } => Program::TakeIn,
        Step::Generate { call, .. } | Step::Apply { call, .. } => Program::Effect(&call.effect),
        Step::Fill { .. } => Program::Fill,
        Step::Lay { .. } => Program::Lay,
    }
}

fn kept(screen: &mut Screen, made: MadeBy) -> Result<Rc<TextureArray>, GpuError> {
    let kept = screen.kept.get(&made);
    kept.map(|array| Rc::clone(array)).ok_or(GpuError::Defect("a picture of the plan is missing"))
}

/// The steps that have to be rendered for a picture, in an order in which they can be.
fn missing(screen: &mut Screen, wanted: &Wanted) -> Vec<Slot> {
    let mut needed = vec![false; wanted.recipe.steps.len()];
    let mut open = vec![wanted.recipe.output];
    while let Some(slot) = open.pop() {
        if needed[slot] {
            continue;
        }
        if screen.kept.get(&wanted.made[slot]).is_some() {
            continue;
        }
        needed[slot] = true;
        open.extend(wanted.recipe.steps[slot].reads());
        open.extend(wanted.recipe.last.get(&slot));
    }
    // A step reads only what earlier steps make.
    (0..needed.len()).filter(|&slot| needed[slot]).collect()
}

#[cfg(test)]
mod tests;
