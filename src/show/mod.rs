//! The show: clips on levels, levels in bundles, bundles in the global picture, a chain on each.

mod against;
pub mod automation;
pub mod called;
pub mod chain;
pub mod clash;
pub mod clip;
pub mod control;
pub mod cue;
pub mod grip;
mod in_turn;
pub mod marks;
pub mod name;
pub mod running;
pub mod section;

pub use grip::Target;
pub use in_turn::InTurn;
pub use running::RunningOrder;
pub use section::Section;

use thiserror::Error;

use crate::base::coding::ColourCode;
use crate::base::frame::{Frame, PixelMode};
use crate::base::place::{did_you_mean, listed, shortened};
use crate::base::words::words;
use crate::beat::FrameRate;
use crate::catalogue::Catalogue;
use chain::{Chain, EffectUse};
use clip::FootageName;
use clip::{Fit, Play};
use control::{Control, Grip};

/// A whole show, as a show file holds it.
#[derive(Debug, Clone, PartialEq)]
pub struct Show {
    /// What the person calls it.
    pub name: String,
    /// A sentence or two on what it is for.
    pub about: String,
    /// Words to find it by.
    pub tags: Vec<String>,
    /// Where it plays; empty where nobody said.
    pub venue: String,
    /// Size of the output.
    pub frame: Frame,
    /// Beats per minute.
    pub tempo_bpm: f64,
    /// Frames per second.
    pub rate: FrameRate,
    /// How pictures are held between effects.
    pub pixels: PixelMode,
    /// From the bottom up; at least one.
    pub bundles: Vec<Bundle>,
    /// The chain on everything.
    pub global: Chain,
    /// What hands play, at most eight; what each holds of an effect stands with that.
    pub controls: Vec<Control>,
    /// What controls hold of things that are no effect: opacities, clips, the section.
    pub held: Vec<(Target, Grip)>,
    /// How long a hand takes from one control to another, in milliseconds.
    pub reach_ms: f64,
    /// The stretches of the set.
    pub sections: Vec<Section>,
    /// The sections in the order in which they come, by their places; one may come more than once.
    pub running_order: Vec<usize>,
    /// Where chains were taken from.
    pub taken: Vec<Taken>,
    /// Whether it is a starter: stand-ins for all footage, to begin a show from.
    pub is_starter: bool,
}

/// A chain that was taken from elsewhere onto a scope, or a clip that was brought from another show: a copy, which does
/// not change when its original does.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Taken {
    pub scope: Scope,
    /// What it was taken from: `library:NAME` or `preset:NAME`; a clip from the show of this name.
    pub preset: String,
    /// Which clip of that show, as `BUNDLE/LEVEL/CLIP`; none of a chain.
    pub clip: Option<String>,
    /// What stands for the chain, or the clip, as it was taken.
    pub content: String,
}

/// Levels kept together, so that a chain can act on them and spare the rest.
#[derive(Debug, Clone, PartialEq)]
pub struct Bundle {
    /// Unique in the show.
    pub name: String,
    /// How it lies over the bundles below.
    pub mix: Mix,
    /// Whether it is kept out of the picture.
    pub hidden: bool,
    /// What a person tells it by.
    pub colour: Option<ColourCode>,
    /// The chain on the whole bundle.
    pub chain: Chain,
    /// From the bottom up; at least one.
    pub levels: Vec<Level>,
}

/// One layer of a bundle's picture stack.
#[derive(Debug, Clone, PartialEq)]
pub struct Level {
    /// Unique in the bundle.
    pub name: String,
    /// How it lies over the levels below.
    pub mix: Mix,
    /// Whether it is kept out of the picture.
    pub hidden: bool,
    /// What a person tells it by.
    pub colour: Option<ColourCode>,
    /// The chain on whichever clip is showing.
    pub chain: Chain,
    /// At least one.
    pub clips: Vec<Clip>,
    /// Which clip shows: a place in `clips`.
    pub showing: usize,
}

/// One piece of footage on a level.
#[derive(Debug, Clone, PartialEq)]
pub struct Clip {
    /// Unique in the level.
    pub name: String,
    /// Where its pictures come from.
    pub footage: FootageName,
    /// How footage of another size is placed in the frame.
    pub fit: Fit,
    /// How footage that moves is played.
    pub play: Play,
    /// Whether it is kept out of the picture: its level shows nothing while its turn lasts.
    pub hidden: bool,
    /// What a person tells it by.
    pub colour: Option<ColourCode>,
    /// The chain on this clip alone.
    pub chain: Chain,
}

impl Clip {
    /// Of some footage, with nothing on it.
    pub fn of(name: &str, footage: FootageName) -> Self {
        Self {
            name: name.to_owned(),
            footage,
            fit: Fit::default(),
            play: Play::default(),
            hidden: false,
            colour: None,
            chain: Vec::new(),
        }
    }

    /// Of a generated source, named after it.
    pub fn generated(source: &str) -> Self {
        Self::of(source, FootageName::Generated(source.to_owned()))
    }
}

impl Level {
    /// A level of one clip, with nothing on it.
    pub fn of(name: &str, clip: Clip) -> Self {
        Self {
            name: name.to_owned(),
            mix: Mix::default(),
            hidden: false,
            colour: None,
            chain: Vec::new(),
            clips: vec![clip],
            showing: 0,
        }
    }
}

impl Bundle {
    /// A bundle of these levels, with nothing on it.
    pub fn of(name: &str, levels: Vec<Level>) -> Self {
        Self {
            name: name.to_owned(),
            mix: Mix::default(),
            hidden: false,
            colour: None,
            chain: Vec::new(),
            levels,
        }
    }
}

/// How one picture is laid over what is below it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mix {
    pub blend: BlendMode,
    /// 0 (not there) to 1.
    pub opacity: f64,
}

impl Default for Mix {
    fn default() -> Self {
        Self { blend: BlendMode::Normal, opacity: 1.0 }
    }
}

words! {
    /// The separable blend modes of W3C Compositing and Blending Level 1, and `add`; the place of one among all is the
    /// number that the shader knows it by.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
    pub enum BlendMode {
        /// The upper picture hides the lower one.
        Normal = "normal",
        /// Product: white vanishes, black stays.
        Multiply = "multiply",
        /// Product of the complements: black vanishes.
        Screen = "screen",
        /// Multiply in the dark parts of the lower picture, screen in its light ones.
        Overlay = "overlay",
        /// The darker of both, channel by channel.
        Darken = "darken",
        /// The lighter of both, channel by channel.
        Lighten = "lighten",
        /// The upper picture brightens the lower one by division.
        ColourDodge = "colour-dodge",
        /// The upper picture darkens the lower one by division.
        ColourBurn = "colour-burn",
        /// Multiply in the dark parts of the upper picture, screen in its light ones.
        HardLight = "hard-light",
        /// A gentler hard light.
        SoftLight = "soft-light",
        /// How far both are apart.
        Difference = "difference",
        /// Difference with less contrast.
        Exclusion = "exclusion",
        /// Sum of the light of both.
        Add = "add",
    }
}

/// A place in a show that has a chain.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Scope {
    /// Everything.
    Global,
    /// A bundle, by its place.
    Bundle(usize),
    /// A level, by the places of its bundle and itself.
    Level(usize, usize),
    /// A clip, by the places of its bundle, its level and itself.
    Clip(usize, usize, usize),
}

/// A clip, by the places of its bundle, its level and itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct ClipPlace {
    /// The bundle's place in the show.
    pub bundle: usize,
    /// The level's place in the bundle.
    pub level: usize,
    /// The clip's place on the level.
    pub clip: usize,
}

impl ClipPlace {
    /// The scopes that the clip's picture passes, in the direction in which it flows.
    pub fn path(self) -> [Scope; 4] {
        [self.into(), Scope::Level(self.bundle, self.level), Scope::Bundle(self.bundle), Scope::Global]
    }

    /// The scope on that path of the same kind as another.
    pub fn scope_like(self, other: Scope) -> Scope {
        let [clip, level, bundle, global] = self.path();
        match other {
            Scope::Clip(..) => clip,
            Scope::Level(..) => level,
            Scope::Bundle(_) => bundle,
            Scope::Global => global,
        }
    }
}

impl From<ClipPlace> for Scope {
    fn from(place: ClipPlace) -> Self {
        Self::Clip(place.bundle, place.level, place.clip)
    }
}

/// Why a scope could not be found.
#[derive(Debug, Error, PartialEq, Eq)]
pub enum ScopeError {
    /// Not of any of the four forms.
    #[error(
        "`{0}` is no scope; write `global`, `bundle:NAME`, `level:BUNDLE/LEVEL` or `clip:BUNDLE/LEVEL/CLIP`"
    )]
    Form(String),
    /// A name that the show does not have.
    #[error("the show has no {what} named `{name}` there{hint} (it has {known})")]
    Unknown {
        /// "bundle", "level" or "clip".
        what: &'static str,
        /// The name asked for.
        name: String,
        /// "; did you mean ...?" or nothing.
        hint: String,
        /// The names there are.
        known: String,
    },
}

impl Show {
    /// Every scope, in the direction in which the picture flows: clips, levels, bundles, global.
    pub fn scopes(&self) -> Vec<Scope> {
        let mut scopes = Vec::new();
        for (b, bundle) in self.bundles.iter().enumerate() {
            for (l, level) in bundle.levels.iter().enumerate() {
                scopes.extend((0..level.clips.len()).map(|c| Scope::Clip(b, l, c)));
                scopes.push(Scope::Level(b, l));
            }
            scopes.push(Scope::Bundle(b));
        }
        scopes.push(Scope::Global);
        scopes
    }

    /// The clip at a place, if the show has one there.
    pub fn clip(&self, place: ClipPlace) -> Option<&Clip> {
        self.bundles.get(place.bundle)?.levels.get(place.level)?.clips.get(place.clip)
    }

    /// The chain on a scope of this show.
    pub fn chain(&self, scope: Scope) -> &Chain {
        match scope {
            Scope::Global => &self.global,
            Scope::Bundle(b) => &self.bundles[b].chain,
            Scope::Level(b, l) => &self.bundles[b].levels[l].chain,
            Scope::Clip(b, l, c) => &self.bundles[b].levels[l].clips[c].chain,
        }
    }

    /// The chain on a scope of this show, to change it.
    pub fn chain_mut(&mut self, scope: Scope) -> &mut Chain {
        match scope {
            Scope::Global => &mut self.global,
            Scope::Bundle(b) => &mut self.bundles[b].chain,
            Scope::Level(b, l) => &mut self.bundles[b].levels[l].chain,
            Scope::Clip(b, l, c) => &mut self.bundles[b].levels[l].clips[c].chain,
        }
    }

    /// The same show with its effects as the catalogue has them now; `None` where it has them already. Effects
    /// that the catalogue lacks stay. What became of settings is added to `told`.
    pub fn rebound(&self, catalogue: &Catalogue, told: &mut Vec<String>) -> Option<Self> {
        let mut new: Option<Self> = None;
        for scope in self.scopes() {
            if let Some(chain) = rebound(self.chain(scope), catalogue, told) {
                *new.get_or_insert_with(|| self.clone()).chain_mut(scope) = chain;
            }
        }
        new
    }

    /// The scope's address, as `scope_named` reads it.
    pub fn address(&self, scope: Scope) -> String {
        let bundle = |b: usize| &self.bundles[b];
        match scope {
            Scope::Global => "global".to_owned(),
            Scope::Bundle(b) => format!("bundle:{}", bundle(b).name),
            Scope::Level(b, l) => format!("level:{}/{}", bundle(b).name, bundle(b).levels[l].name),
            Scope::Clip(b, l, c) => {
                let level = &bundle(b).levels[l];
                format!("clip:{}/{}/{}", bundle(b).name, level.name, level.clips[c].name)
            }
        }
    }

    /// The scope with this address.
    ///
    /// # Errors
    /// [`ScopeError`] with the nearest name that the show has.
    pub fn scope_named(&self, address: &str) -> Result<Scope, ScopeError> {
        let form = || ScopeError::Form(shortened(address));
        if address == "global" {
            return Ok(Scope::Global);
        }
        let (kind, path) = address.split_once(':').ok_or_else(form)?;
        let names: Vec<&str> = path.split('/').collect();
        let bundle = |name| place("bundle", name, self.bundles.iter().map(|b| b.name.as_str()));
        let level =
            |b: usize, name| place("level", name, self.bundles[b].levels.iter().map(|l| l.name.as_str()));
        match (kind, names.as_slice()) {
            ("bundle", [b]) => Ok(Scope::Bundle(bundle(b)?)),
            ("level", [b, l]) => {
                let b = bundle(b)?;
                Ok(Scope::Level(b, level(b, l)?))
            }
            ("clip", [b, l, c]) => {
                let b = bundle(b)?;
                let l = level(b, l)?;
                let clips = &self.bundles[b].levels[l].clips;
                Ok(Scope::Clip(b, l, place("clip", c, clips.iter().map(|clip| clip.name.as_str()))?))
            }
            _ => Err(form()),
        }
    }

    /// Puts all that a control moves where it is with the control at a position, 0 to 1; which section plays is no part of that.
    pub fn stand_control(&mut self, control: &str, position: f64) {
        let held: Vec<_> = self.grips(control).map(|(target, grip)| (target, grip.clone())).collect();
        for (target, grip) in held.into_iter().filter(|(target, _)| *target != Target::Section) {
            if let Some(kind) = self.target_kind(target) {
                self.put_target(target, &grip.at(&kind, position));
            }
        }
    }

    /// Whether the scope's picture is in the output: neither it nor what it lies in is hidden, and a clip is the one
    /// that its level shows.
    pub fn shows(&self, scope: Scope) -> bool {
        let has_its_turn = match scope {
            Scope::Clip(b, l, c) => self.bundles[b].levels[l].showing == c,
            _ => true,
        };
        has_its_turn && !self.lies_hidden(scope)
    }

    /// Brings a scope's picture into the output: nothing that it lies in stays hidden, and its level shows it.
    pub fn bring_out(&mut self, scope: Scope) {
        match scope {
            Scope::Global => {}
            Scope::Bundle(b) => self.bundles[b].hidden = false,
            Scope::Level(b, l) => {
                self.bring_out(Scope::Bundle(b));
                self.bundles[b].levels[l].hidden = false;
            }
            Scope::Clip(b, l, c) => {
                self.bring_out(Scope::Level(b, l));
                let level = &mut self.bundles[b].levels[l];
                (level.showing, level.clips[c].hidden) = (c, false);
            }
        }
    }

    /// The colour by which a person tells a scope, if it has one.
    pub fn colour(&self, scope: Scope) -> Option<ColourCode> {
        match scope {
            Scope::Global => None,
            Scope::Bundle(b) => self.bundles[b].colour,
            Scope::Level(b, l) => self.bundles[b].levels[l].colour,
            Scope::Clip(b, l, c) => self.bundles[b].levels[l].clips[c].colour,
        }
    }

    /// Whether a scope itself is hidden.
    pub fn is_hidden(&self, scope: Scope) -> bool {
        match scope {
            Scope::Global => false,
            Scope::Bundle(b) => self.bundles[b].hidden,
            Scope::Level(b, l) => self.bundles[b].levels[l].hidden,
            Scope::Clip(b, l, c) => self.bundles[b].levels[l].clips[c].hidden,
        }
    }

    /// The scopes that are hidden themselves, in the order in which the picture flows.
    pub fn hidden(&self) -> Vec<Scope> {
        self.scopes().into_iter().filter(|&scope| self.is_hidden(scope)).collect()
    }

    /// Whether a scope, or what it lies in, is hidden; a clip that waits for its turn is not.
    pub fn lies_hidden(&self, scope: Scope) -> bool {
        self.is_hidden(scope)
            || match scope {
                Scope::Global | Scope::Bundle(_) => false,
                Scope::Level(b, _) => self.is_hidden(Scope::Bundle(b)),
                Scope::Clip(b, l, _) => self.lies_hidden(Scope::Level(b, l)),
            }
    }

    /// The scope with the most effects of those that are not hidden, the later in the picture's flow where several have as many.
    pub fn busiest_scope(&self) -> Scope {
        let scopes = self.scopes().into_iter().filter(|&scope| !self.lies_hidden(scope));
        scopes.max_by_key(|&scope| self.chain(scope).len()).unwrap_or(Scope::Global)
    }
}

/// A chain with its effects as the catalogue has them now; `None` where it has them already.
pub fn rebound(chain: &[EffectUse], catalogue: &Catalogue, told: &mut Vec<String>) -> Option<Chain> {
    let now =
        |used: &EffectUse| catalogue.effect(&used.effect.name).ok().filter(|now| !now.is_same(&used.effect));
    if chain.iter().all(|used| now(used).is_none()) {
        return None;
    }
    let one = |used: &EffectUse| now(used).map_or_else(|| used.clone(), |now| used.rebound(now, told));
    Some(chain.iter().map(one).collect())
}

fn place<'a>(
    what: &'static str,
    name: &str,
    known: impl Iterator<Item = &'a str> + Clone,
) -> Result<usize, ScopeError> {
    known.clone().position(|k| k == name).ok_or_else(|| {
        let name = shortened(name);
        ScopeError::Unknown { what, hint: did_you_mean(&name, known.clone()), name, known: listed(known) }
    })
}
