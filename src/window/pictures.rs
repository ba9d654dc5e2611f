//! Pictures for the panels: asked for while a pass is drawn, made after it, painted in the next.

use std::collections::HashMap;
use std::sync::Arc;

use egui::{Id, TextureId};

use super::paint::Painter;
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::beat::Moment;
use crate::catalogue::Catalogue;
use crate::footage::{FootageError, Shelf};
use crate::gpu::{Gpu, GpuError, Recipe, Renderer, Returning, Screen, ScreenKey, Wanted};
use crate::plan::Path;
use crate::show::clip::{FootageName, Play};
use crate::show::{Scope, Show};

/// Which picture of a path is meant.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Stage {
    /// The output, with the chain in this order.
    Output(Vec<usize>),
    /// The scope's picture after these effects of the chain.
    After(Vec<usize>),
}

/// A show, and its share of what is seen.
pub type Shown = (Arc<Show>, f64);

/// The shows from which another takes over, each with its share of what is seen: from which beat on, and in how many.
#[derive(Debug, Clone)]
pub struct Fade {
    pub from: Vec<Shown>,
    pub begins: f64,
    pub beats: f64,
}

impl Fade {
    /// The share of the way that is done at a beat.
    pub fn share(&self, beats: f64) -> f64 {
        ((beats - self.begins) / self.beats).clamp(0.0, 1.0)
    }

    fn is(&self, other: &Self) -> bool {
        let is_it = |(own, other): (&Shown, &Shown)| Arc::ptr_eq(&own.0, &other.0) && own.1 == other.1;
        self.from.len() == other.from.len()
            && self.from.iter().zip(&other.from).all(is_it)
            && [self.begins, self.beats] == [other.begins, other.beats]
    }
}

/// How soon a picture is needed; the first is made first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Urgency {
    /// The large picture.
    Large,
    Path,
    Wall,
}

/// A picture at its place on the screen.
#[derive(Debug, Clone, Copy)]
pub struct Placed {
    /// What to paint: the picture, or the last one that stood here.
    pub texture: TextureId,
    /// Whether it is the picture asked for.
    pub is_fresh: bool,
}

/// The GPU's part.
struct Maker {
    renderer: Renderer,
    screen: Screen,
    painter: Painter,
    /// Registered textures: those that show single texels apart from those that are smoothed.
    textures: HashMap<(ScreenKey, bool), TextureId>,
}

/// A path, planned once for a show and a moment.
struct Planned {
    show: Arc<Show>,
    /// What it takes over from.
    fade: Option<Fade>,
    scope: Scope,
    moment: Moment,
    path: Result<Arc<Path>, String>,
    wanted: HashMap<Stage, Wanted>,
    last_pass: u64,
    /// The pass in which it was planned, and whether footage that is still being opened was stood in for.
    planned_pass: u64,
    is_stand_in: bool,
}

impl Planned {
    fn is_of(&self, show: &Arc<Show>, fade: Option<&Fade>, scope: Scope, moment: Moment) -> bool {
        let is_fade = match (&self.fade, fade) {
            (Some(own), Some(fade)) => own.is(fade),
            (own, fade) => own.is_none() && fade.is_none(),
        };
        Arc::ptr_eq(&self.show, show) && is_fade && self.scope == scope && self.moment == moment
    }
}

/// A picture whose bytes are asked for.
struct Bytes {
    key: ScreenKey,
    /// The pass in which they were last asked for.
    last_pass: u64,
    way: Way,
}

enum Way {
    /// On their way back from the GPU.
    Back(Returning),
    There(Arc<Picture>),
}

/// Makes pictures for the panels, or, without a GPU, none.
pub struct Pictures {
    maker: Option<Maker>,
    shelf: Shelf,
    planned: Vec<Planned>,
    asked: Vec<(Urgency, Wanted)>,
    /// What stood last at each place, and the pass in which it was last drawn.
    last: HashMap<Id, (ScreenKey, u64)>,
    bytes: Vec<Bytes>,
    passes: u64,
    missing: usize,
    problem: Option<String>,
}

impl Pictures {
    /// Pictures made on this GPU, and painted on a surface of this format.
    pub fn on(gpu: Gpu, surface: wgpu::TextureFormat, catalogue: &Catalogue) -> Self {
        let painter = Painter::new(gpu.device(), surface);
        let maker = Maker {
            renderer: Renderer::new(gpu),
            screen: Screen::default(),
            painter,
            textures: HashMap::new(),
        };
        Self { maker: Some(maker), ..Self::none(catalogue) }
    }

    /// No pictures: every place stays empty.
    pub fn none(catalogue: &Catalogue) -> Self {
        Self {
            maker: None,
            shelf: Shelf::live(catalogue),
            planned: Vec::new(),
            asked: Vec::new(),
            last: HashMap::new(),
            bytes: Vec::new(),
            passes: 0,
            missing: 0,
            problem: None,
        }
    }

    /// The GPU, if there is one.
    pub fn gpu(&self) -> Option<&Gpu> {
        self.maker.as_ref().map(|maker| maker.renderer.gpu())
    }

    /// What paints the interface, and the GPU that it paints on.
    pub fn painter(&mut self) -> Option<(&mut Painter, &Gpu)> {
        self.maker.as_mut().map(|maker| (&mut maker.painter, maker.renderer.gpu()))
    }

    /// The renderer, for what is written to a file.
    pub fn renderer(&mut self) -> Option<&mut Renderer> {
        self.maker.as_mut().map(|maker| &mut maker.renderer)
    }

    /// Pictures still missing after the last pass.
    pub fn missing(&self) -> usize {
        self.missing
    }

    /// Passes rendered so far.
    pub fn rendered(&self) -> u64 {
        self.maker.as_ref().map_or(0, |maker| maker.screen.passes())
    }

    /// What keeps pictures from being made, in words.
    pub fn problem(&self) -> Option<&str> {
        self.problem.as_deref()
    }

    /// Whether the GPU is at work for the screen.
    pub fn is_busy(&mut self) -> bool {
        self.maker.as_mut().is_some_and(|maker| maker.screen.is_busy(maker.renderer.gpu()))
    }

    /// Looks at footage files afresh.
    pub fn forget_footage(&mut self, catalogue: &Catalogue) {
        self.shelf = Shelf::live(catalogue);
        self.planned.clear();
    }

    /// Takes effects and sources as the catalogue has them now.
    pub fn take_catalogue(&mut self, catalogue: &Catalogue) {
        self.shelf.take_catalogue(catalogue);
        self.planned.clear();
    }

    /// Whether footage of what the last pass showed is still being opened or decoded, on threads of its own.
    pub fn is_loading(&self) -> bool {
        self.planned.iter().any(|planned| planned.is_stand_in && planned.last_pass == self.passes)
    }

    /// How the opening of a clip's footage stands: nothing while it is on its way.
    pub fn opened(&mut self, footage: &FootageName, play: &Play) -> Option<Result<(), FootageError>> {
        self.shelf.opened(footage, play)
    }

    /// Whether something stands in for footage of this path that is still being opened or decoded.
    pub fn stands_in(&mut self, show: &Arc<Show>, scope: Scope, moment: Moment) -> bool {
        self.planned(show, None, scope, moment).is_stand_in
    }

    fn planned(
        &mut self,
        show: &Arc<Show>,
        fade: Option<&Fade>,
        scope: Scope,
        moment: Moment,
    ) -> &mut Planned {
        // What was stood in for is looked at again in every pass.
        let passes = self.passes;
        self.planned.retain(|one| {
            !(one.is_stand_in && one.planned_pass != passes && one.is_of(show, fade, scope, moment))
        });
        let known = self.planned.iter().position(|one| one.is_of(show, fade, scope, moment));
        let at = known.unwrap_or_else(|| {
            let path = match fade {
                None => Path::of_scope_carried(show, scope, moment, &mut self.shelf),
                Some(fade) => {
                    let share = |moment: &Moment| fade.share(moment.beats);
                    let from: Vec<(&Show, f64)> = fade.from.iter().map(|(show, of)| (&**show, *of)).collect();
                    Path::of_fade_carried(&from, show, share, moment, &mut self.shelf)
                }
            };
            let is_stand_in = self.shelf.take_stood_in();
            self.planned.push(Planned {
                show: Arc::clone(show),
                fade: fade.cloned(),
                scope,
                moment,
                path: path.map(Arc::new).map_err(|error| error.to_string()),
                wanted: HashMap::new(),
                last_pass: 0,
                planned_pass: passes,
                is_stand_in,
            });
            self.planned.len() - 1
        });
        let planned = &mut self.planned[at];
        planned.last_pass = self.passes;
        planned
    }

    /// The path of a scope, planned.
    pub fn path(&mut self, show: &Arc<Show>, scope: Scope, moment: Moment) -> Option<Arc<Path>> {
        self.path_of(show, None, scope, moment)
    }

    fn path_of(
        &mut self,
        show: &Arc<Show>,
        fade: Option<&Fade>,
        scope: Scope,
        moment: Moment,
    ) -> Option<Arc<Path>> {
        match self.planned(show, fade, scope, moment).path.clone() {
            Ok(path) => Some(path),
            Err(problem) => {
                self.problem = Some(problem);
                None
            }
        }
    }

    /// A picture of a path, to be placed with [`Self::place`].
    pub fn wanted(
        &mut self,
        show: &Arc<Show>,
        scope: Scope,
        moment: Moment,
        stage: &Stage,
    ) -> Option<Wanted> {
        self.wanted_of(show, None, (scope, moment), stage)
    }

    /// The output of a show, while it takes over from another where `fade` says so.
    pub fn output(&mut self, show: &Arc<Show>, fade: Option<&Fade>, moment: Moment) -> Option<Wanted> {
        let stage = Stage::Output((0..show.global.len()).collect());
        self.wanted_of(show, fade, (Scope::Global, moment), &stage)
    }

    fn wanted_of(
        &mut self,
        show: &Arc<Show>,
        fade: Option<&Fade>,
        (scope, moment): (Scope, Moment),
        stage: &Stage,
    ) -> Option<Wanted> {
        let path = self.path_of(show, fade, scope, moment)?;
        if let Some(known) = self.planned(show, fade, scope, moment).wanted.get(stage) {
            return Some(known.clone());
        }
        let recipe = match stage {
            Stage::Output(order) => Recipe::output(&path, order),
            Stage::After(order) => Recipe::after(&path, order),
        };
        let wanted = self.maker.as_mut()?.screen.wanted(recipe, moment.frame);
        self.planned(show, fade, scope, moment).wanted.insert(stage.clone(), wanted.clone());
        Some(wanted)
    }

    /// How far two pictures are apart, four times as bright as it is.
    pub fn apart(&mut self, a: &Wanted, b: &Wanted) -> Option<Wanted> {
        Some(self.maker.as_mut()?.screen.apart(a, b))
    }

    /// The bytes of a picture: asked for where it is not made, and nothing until they have come back from the GPU,
    /// which is not waited for.
    pub fn bytes(&mut self, wanted: &Wanted, size: Frame) -> Option<Arc<Picture>> {
        let wanted = wanted.at(size);
        let key = wanted.key;
        let maker = self.maker.as_mut()?;
        let gpu = maker.renderer.gpu();
        let at = match self.bytes.iter().position(|one| one.key == key) {
            Some(at) => at,
            None => {
                let Some(shown) = maker.screen.get(key) else {
                    self.asked.push((Urgency::Large, wanted));
                    return None;
                };
                let way = Way::Back(Returning::begin(gpu, shown));
                self.bytes.push(Bytes { key, last_pass: self.passes, way });
                self.bytes.len() - 1
            }
        };
        let one = &mut self.bytes[at];
        one.last_pass = self.passes;
        if let Way::Back(returning) = &one.way {
            match returning.taken(gpu)? {
                Ok(picture) => one.way = Way::There(Arc::new(picture)),
                Err(error) => {
                    self.problem = Some(error.to_string());
                    self.bytes.remove(at);
                    return None;
                }
            }
        }
        match &one.way {
            Way::There(picture) => Some(Arc::clone(picture)),
            Way::Back(_) => None,
        }
    }

    /// The texture for a picture at a place, `size` texels large; asked for where it is not made yet.
    pub fn place(
        &mut self,
        place: Id,
        wanted: &Wanted,
        size: Frame,
        single_texels: bool,
        urgency: Urgency,
    ) -> Option<Placed> {
        let wanted = wanted.at(size);
        let key = wanted.key;
        self.asked.push((urgency, wanted));
        let passes = self.passes;
        let maker = self.maker.as_mut()?;
        let (key, is_fresh) = if maker.screen.get(key).is_some() {
            self.last.insert(place, (key, passes));
            (key, true)
        } else {
            let (last, drawn) = self.last.get_mut(&place)?;
            *drawn = passes;
            (*last, false)
        };
        let texture = maker.texture(key, single_texels)?;
        Some(Placed { texture, is_fresh })
    }

    /// Whether a picture is there at a size, or never will be for want of a GPU.
    pub fn is_made(&mut self, wanted: &Wanted, size: Frame) -> bool {
        let key = wanted.at(size).key;
        self.maker.as_mut().is_none_or(|maker| maker.screen.get(key).is_some())
    }

    /// Asks for a picture; what stands at its place stays.
    pub fn ask(&mut self, wanted: &Wanted, size: Frame, urgency: Urgency) {
        self.asked.push((urgency, wanted.at(size)));
    }

    /// What stood last at a place.
    pub fn last(&mut self, place: Id, single_texels: bool) -> Option<Placed> {
        let (key, drawn) = self.last.get_mut(&place)?;
        *drawn = self.passes;
        let texture = self.maker.as_mut()?.texture(*key, single_texels)?;
        Some(Placed { texture, is_fresh: false })
    }

    /// Begins a pass: nothing is asked for yet.
    pub fn begin_pass(&mut self) {
        self.asked.clear();
        self.problem = None;
        self.passes += 1;
    }

    /// Whether something as urgent as this is still missing of what the last pass asked for.
    pub fn lacks(&mut self, urgency: Urgency) -> bool {
        let Some(maker) = &mut self.maker else { return false };
        self.asked.iter().any(|(known, wanted)| *known <= urgency && maker.screen.get(wanted.key).is_none())
    }

    /// Has a slice of what the pass asked for made; nothing is waited for.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn make(&mut self) -> Result<(), GpuError> {
        let passes = self.passes;
        self.planned.retain(|planned| planned.last_pass + 2 > passes);
        self.bytes.retain(|one| one.last_pass + 2 > passes);
        let Some(maker) = &mut self.maker else { return Ok(()) };
        // Equal urgencies keep the order in which they were drawn.
        self.asked.sort_by_key(|(urgency, _)| *urgency);
        let wanted: Vec<Wanted> = self.asked.iter().map(|(_, wanted)| wanted.clone()).collect();
        // What still stands in for a picture on its way is kept too.
        self.last.retain(|_, (_, drawn)| *drawn + 2 > passes);
        for (key, _) in self.last.values() {
            let _ = maker.screen.get(*key);
        }
        maker.renderer.make(&mut maker.screen, &wanted)?;
        for key in maker.screen.take_gone() {
            for single_texels in [false, true] {
                if let Some(texture) = maker.textures.remove(&(key, single_texels)) {
                    maker.painter.textures.free_texture(&texture);
                }
            }
            self.last.retain(|_, (last, _)| *last != key);
        }
        let returning = self.bytes.iter().filter(|one| matches!(one.way, Way::Back(_))).count();
        self.missing = wanted.iter().filter(|one| maker.screen.get(one.key).is_none()).count() + returning;
        Ok(())
    }
}

impl Maker {
    fn texture(&mut self, key: ScreenKey, single_texels: bool) -> Option<TextureId> {
        if let Some(known) = self.textures.get(&(key, single_texels)) {
            return Some(*known);
        }
        let filter = if single_texels { wgpu::FilterMode::Nearest } else { wgpu::FilterMode::Linear };
        let view = &self.screen.get(key)?.view;
        let device = self.renderer.gpu().device();
        let texture = self.painter.textures.register_native_texture(device, view, filter);
        self.textures.insert((key, single_texels), texture);
        Some(texture)
    }
}
