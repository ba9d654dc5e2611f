//! What the person looks at: the state of the window that is no part of the work.

use std::path::PathBuf;

use egui::{Pos2, pos2};

use super::action::{Action, Dialog, Pin};
use super::basis::Basis;
use super::preferences::Preferences;
use super::sections::InSection;
use super::seeking::Seeking;
use super::showing::{Preview, Shown, Side, Tab, Tried, WallBy};
use crate::base::frame::Frame;
use crate::beat::{Beats, Moment};
use crate::edit::{Carry, Edit, Spot, StructureEdit};
use crate::order::Condition;
use crate::show::{ClipPlace, Scope, Show};

/// A beat at which the demo's flash is open, so that its place in the chain shows.
const FIRST_BEATS: f64 = 0.1;

/// The state of the window.
#[derive(Debug, Clone)]
pub struct View {
    /// The clip whose path is shown.
    pub clip: ClipPlace,
    /// The scope whose chain the wall shows.
    pub scope: Scope,
    /// The effect selected in that chain.
    pub selected: Option<usize>,
    /// Further effects of it that are selected together with that one.
    pub also: Vec<usize>,
    /// What the large picture shows.
    pub shown: Shown,
    /// A card being dragged, and the gap that it is over.
    pub drag: Option<(Spot, Spot)>,
    /// Whether copies are dragged, and the cards stay.
    pub drags_copies: bool,
    /// A bundle, a level or a clip being dragged, and the gap that it is over.
    pub part: Option<(Scope, Scope)>,
    /// What is pointed at, as it would be if it were taken.
    pub preview: Option<Preview>,
    /// What is shown alone: a way of looking, which nothing keeps.
    pub alone: Option<Scope>,
    /// What is being renamed in its place.
    pub renaming: Option<Scope>,
    /// The pin that is being renamed in its place.
    pub renaming_pin: Option<usize>,
    /// The section that the show is looked at in; as it stands where there is none.
    pub section: Option<InSection>,
    /// Whether its settings stand in place of those of what is selected.
    pub section_settings: bool,
    /// The section that is being renamed in its place.
    pub renaming_section: Option<InSection>,
    /// Whether the running order is played.
    pub rehearses: bool,
    /// Whether the wall shows the output, not the picture as it leaves the chain.
    pub wall_of_output: bool,
    /// What the wall shows a picture of.
    pub wall_by: WallBy,
    /// On what the orders on the wall are judged.
    pub basis: Basis,
    /// What is looked for.
    pub seeking: Seeking,
    /// Whether the flashes of every order on the wall are counted.
    pub flashes_of_orders: bool,
    /// The wall shows only orders that meet these.
    pub conditions: Vec<Condition>,
    /// Where the beat stands.
    pub beats: f64,
    /// Whether time goes on.
    pub playing: bool,
    /// How many beats are played round and round, if any are.
    pub looped: Option<u32>,
    /// What stands beside the picture.
    pub tab: Tab,
    /// Orders kept in view.
    pub pins: Vec<Pin>,
    /// The dialog over the window.
    pub dialog: Option<Dialog>,
    /// The dialog that comes back once a report is read, with what was typed into it.
    pub back_to: Option<Dialog>,
    /// Paths that were typed and led to nothing: they stand in their dialogs again.
    pub typed: Vec<(Dialog, PathBuf)>,
    /// What is done once the work is saved.
    pub after_saving: Option<Box<Action>>,
    /// The bottom line.
    pub said: String,
    /// What the person set for good.
    pub preferences: Preferences,
    /// Whether the pictures of a pair are shown one after the other.
    pub blinking: bool,
    /// Where the line between the two pictures of a pair stands, as a share of their width.
    pub wipe: f32,
    /// How many texels of the frame one rendered texel stands for, along a side.
    pub detail: u32,
    /// How many pixels of the screen a pixel of the picture takes; `None` shows it whole.
    pub zoom: Option<f32>,
    /// The point of the picture that stands in the middle while it is not shown whole, as shares of its sides.
    pub centre: Pos2,
    /// Whether the picture alone fills the window.
    pub fills: bool,
    /// Whether a second window shows the output, and whether it is black.
    pub second: bool,
    pub black: bool,
}

impl View {
    /// The view of a show, with the chain of `scope` on the wall.
    pub fn of(show: &Show, scope: Scope) -> Self {
        Self {
            clip: clip_on_the_way(show, scope),
            scope,
            selected: (!show.chain(scope).is_empty()).then_some(0),
            also: Vec::new(),
            shown: Shown::Output,
            drag: None,
            drags_copies: false,
            part: None,
            preview: None,
            alone: None,
            renaming: None,
            renaming_pin: None,
            section: None,
            section_settings: false,
            renaming_section: None,
            rehearses: false,
            wall_of_output: false,
            wall_by: WallBy::Families,
            basis: Basis::default(),
            seeking: Seeking::default(),
            flashes_of_orders: false,
            conditions: Vec::new(),
            beats: FIRST_BEATS,
            playing: false,
            looped: None,
            tab: Tab::Orders,
            pins: Vec::new(),
            dialog: None,
            back_to: None,
            typed: Vec::new(),
            after_saving: None,
            said: String::new(),
            preferences: Preferences::default(),
            blinking: false,
            wipe: 0.5,
            detail: 1,
            zoom: None,
            centre: pos2(0.5, 0.5),
            fills: false,
            second: false,
            black: false,
        }
    }

    /// The scopes on the path of the clip shown, in the direction in which the picture flows.
    pub fn path(&self) -> [Scope; 4] {
        self.clip.path()
    }

    /// The effect selected.
    pub fn spot(&self) -> Option<Spot> {
        self.selected.map(|at| Spot { scope: self.scope, at })
    }

    /// The places of all effects selected in the chain, rising.
    pub fn places(&self) -> Vec<usize> {
        let mut places: Vec<usize> = self.selected.into_iter().chain(self.also.iter().copied()).collect();
        places.sort_unstable();
        places.dedup();
        places
    }

    /// Whether an effect is selected, alone or with others.
    pub fn is_selected(&self, spot: Spot) -> bool {
        spot.scope == self.scope && (self.selected == Some(spot.at) || self.also.contains(&spot.at))
    }

    /// What comes of a card dragged to a gap: all that are selected with it go there, or copies of them.
    pub fn carried(&self, from: Spot, into: Spot) -> Edit {
        let places = if self.is_selected(from) { self.places() } else { vec![from.at] };
        match (&places[..], self.drags_copies) {
            ([_], false) => Edit::Move { from, into },
            (_, copies) => Edit::Carry(Carry { scope: from.scope, places, into, copies }),
        }
    }

    /// What would be done if what is being dragged were dropped.
    pub fn dragged(&self) -> Option<Edit> {
        let part = || self.part.map(|(what, into)| Edit::Structure(StructureEdit::Move { what, into }));
        self.drag.map(|(from, into)| self.carried(from, into)).or_else(part)
    }

    /// What the large picture shows in place of the work: what is being dragged, or else what is pointed at.
    pub fn tried(&self) -> Option<Tried> {
        let pointed_at = || self.preview.as_ref().map(|preview| preview.tried.clone());
        self.dragged().map(Tried::Edit).or_else(pointed_at)
    }

    /// The moment of a show at these beats, at the size that is rendered.
    pub fn moment(&self, show: &Show, beats: f64) -> Moment {
        let side = |side: u32| (side / self.detail.max(1)).max(1);
        let frame = Frame { width: side(show.frame.width), height: side(show.frame.height) };
        Moment::at_beats(frame, show.pixels, show.tempo_bpm, show.rate, &Beats::of_decimal(beats))
    }

    /// Keeps to what the show still has.
    pub fn follow(&mut self, show: &Show) {
        let bundle = self.clip.bundle.min(show.bundles.len() - 1);
        let level = self.clip.level.min(show.bundles[bundle].levels.len() - 1);
        let clip = self.clip.clip.min(show.bundles[bundle].levels[level].clips.len() - 1);
        self.clip = ClipPlace { bundle, level, clip };
        self.scope = self.clip.scope_like(self.scope);
        let effects = show.chain(self.scope).len();
        self.selected = self.selected.filter(|_| effects > 0).map(|at| at.min(effects - 1));
        self.also.retain(|at| *at < effects && self.selected.is_some_and(|selected| selected != *at));
        let fits = |scope: Scope, order: &[usize]| {
            self.path().contains(&scope) && order.len() == show.chain(scope).len()
        };
        let is_there = match &self.shown {
            Shown::Output => true,
            Shown::Found(row) => [row.of, row.scope].iter().all(|scope| show.scopes().contains(scope)),
            Shown::After(spot) => self.path().contains(&spot.scope) && spot.at < show.chain(spot.scope).len(),
            Shown::Order { scope, order } => fits(*scope, order),
            Shown::Pair(pair) => pair.sides().into_iter().all(|side| match side {
                Side::Order { scope, order } => fits(*scope, order),
                Side::Kept { row, .. } => show.scopes().contains(&row.scope),
            }),
        };
        if !is_there {
            self.shown = Shown::Output;
        }
        self.conditions.retain(|condition| match *condition {
            Condition::Before { under, over } => under < effects && over < effects,
            Condition::First(effect) | Condition::Last(effect) => effect < effects,
        });
    }
}

/// A clip whose path leads through the scope: the one that shows.
pub fn clip_on_the_way(show: &Show, scope: Scope) -> ClipPlace {
    let showing = |bundle: usize, level: usize| ClipPlace {
        bundle,
        level,
        clip: show.bundles[bundle].levels[level].showing,
    };
    match scope {
        Scope::Global => showing(0, 0),
        Scope::Bundle(b) => showing(b, 0),
        Scope::Level(b, l) => showing(b, l),
        Scope::Clip(bundle, level, clip) => ClipPlace { bundle, level, clip },
    }
}
