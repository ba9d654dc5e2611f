//! A page that is alive: a chain, in one HTML file, that a browser runs itself.
//!
//! What the browser runs is written here: the shaders that the renderer dispatches, the bytes that they read at each
//! moment, and the pictures that every order has in common. `live.js` executes that and knows no effect. Where settings
//! feed what the program works out, the page holds a table of what comes of them, so that no sum stands in it twice.

mod fitting;
mod packed;
mod recorder;
mod shared;
mod stage;
mod stops;
mod told;
mod triangle;

use std::collections::HashMap;

use serde_json::{Value as Json, json};

use self::packed::Packed;
use self::recorder::{Recorder, derived_from_settings, inputs_of};
use self::shared::Shared;
use self::told::{found, frame_json, setting_json};
use self::triangle::{PairTold, pairs_told};
use crate::base::at_once::processors;
use crate::base::frame::{Frame, PixelMode};
use crate::base::shown::shown;
use crate::beat::Moment;
use crate::explore::Exploration;
use crate::explore::swaps::Swap;
use crate::files::chain_text;
use crate::gpu::{Portable, RenderError, Renderer, WrittenProgram};
use crate::order::marks;
use crate::output::report::ReportError;
use crate::plan::Path;
use crate::show::chain::{EffectUse, Preset, labels};

pub use fitting::{Stills, Written, written_within};
pub use stage::stage;

/// The page's script.
pub const SCRIPT: &str = include_str!("live.js");

/// Bytes that a page takes at most where nothing else is asked, as long as its stills leave room.
pub const PAGE_BYTES: usize = 4_000_000;

/// Moments a beat where pictures move.
const MOMENTS_A_BEAT: u64 = 8;
/// Beats that a page plays over where nothing lies under the chain but what stands still, and where something moves.
const BEATS: [u64; 2] = [4, 1];
/// Chains up to this long have the look of every order in the page: 720 orders.
const LOOKS_OF: usize = 6;

/// A chain as a page runs it.
#[derive(Debug, Clone)]
pub struct Recorded {
    name: String,
    about: String,
    size: Frame,
    pixels: PixelMode,
    tempo_bpm: f64,
    chain: Vec<EffectUse>,
    /// What its own file calls the effects.
    labels: Vec<String>,
    programs: Vec<WrittenProgram>,
    /// For each effect its program, and the one over its own last output.
    of_effects: Vec<(usize, Option<usize>)>,
    take_in: Option<usize>,
    join: Option<usize>,
    give_out: Option<usize>,
    frames: Vec<RecordedFrame>,
    /// Which of them is shown first.
    first: usize,
    /// Whether each is made of those before it.
    remembers: bool,
    /// Beats from one frame to the next.
    apart: f64,
    pictures: Vec<Packed>,
    tables: Vec<Vec<u8>>,
    found: Json,
    pairs: Vec<PairTold>,
}

/// What differs from frame to frame.
#[derive(Debug, Clone)]
struct RecordedFrame {
    beats: f64,
    /// The places of what each is put together from.
    pictures: Vec<Vec<usize>>,
    settings: Vec<Vec<u8>>,
    /// For each effect, the table of each thing that is worked out from settings.
    tables: Vec<Vec<usize>>,
    after: Vec<RecordedAfter>,
}

#[derive(Debug, Clone)]
struct RecordedAfter {
    kind: &'static str,
    program: usize,
    past: Option<usize>,
    /// Tells apart what remembers.
    id: String,
    bytes: Vec<u8>,
}

/// What a chain is called where it is taken along, and what is known of its orders.
#[derive(Debug, Clone)]
pub struct About<'a> {
    pub name: &'a str,
    pub about: &'a str,
    /// It plays on from its moment, as long as its pictures take no more bytes than this; 0 for the moment alone.
    pub plays_within: usize,
    /// Where its orders were explored.
    pub explored: Option<&'a Exploration>,
    /// What is known of its pairs.
    pub swaps: &'a [Swap],
}

impl Recorded {
    /// A path's chain, at its moment and at others; `path_at` gives the path at another.
    ///
    /// # Errors
    /// [`ReportError`] where footage or the GPU fails.
    pub fn of(
        renderer: &mut Renderer,
        path: &Path,
        about: &About<'_>,
        mut path_at: impl FnMut(Moment) -> Result<Path, RenderError>,
    ) -> Result<Self, ReportError> {
        let pixels = path.moment.pixels;
        let mut recorder = Recorder::default();
        let of_effects = path.chain.iter().map(|used| recorder.effect(&used.effect, pixels)).collect();
        let remembers = path.remembers();
        let (mut frames, mut apart) = (Vec::new(), path.moment.beats_a_frame());
        let pictures = renderer.kept_pictures(path).map_err(RenderError::from)?;
        recorder.make_ready(pictures.iter().flatten());
        for (one, pictures) in path.frames().zip(&pictures) {
            frames.push(recorder.frame(one, pictures));
        }
        let still = pictures.last().map_or(&[][..], |last| last);
        let first = frames.len() - 1;
        if !remembers {
            let step = (1.0 / (path.moment.beats_a_frame() * MOMENTS_A_BEAT as f64)).round().max(1.0) as u64;
            apart *= step as f64;
            let [mut beats, least] = BEATS;
            let mut nth = 1;
            while nth < beats * MOMENTS_A_BEAT && recorder.bytes() < about.plays_within {
                // As many as are encoded at once, and no more than there are where something moves, until that is known.
                let known = if nth < least * MOMENTS_A_BEAT { least } else { beats } * MOMENTS_A_BEAT;
                let mut later = Vec::new();
                for nth in nth..known.min(nth + processors() as u64) {
                    let later_path = path_at(path.moment.after(nth * step))?;
                    // What is made the same way is the same picture.
                    let is_still =
                        later_path.before == path.before && later_path.slots_kept() == path.slots_kept();
                    let kept = match is_still {
                        true => still.to_vec(),
                        false => {
                            let mut kept = renderer.kept_pictures(&later_path).map_err(RenderError::from)?;
                            kept.pop().unwrap_or_default()
                        }
                    };
                    later.push((later_path, kept));
                }
                recorder.make_ready(later.iter().flat_map(|(_, kept)| kept));
                for (path, kept) in &later {
                    if nth >= beats * MOMENTS_A_BEAT || recorder.bytes() >= about.plays_within {
                        break;
                    }
                    frames.push(recorder.frame(path, kept));
                    if frames.iter().any(|frame| frame.pictures != frames[0].pictures) {
                        beats = least;
                    }
                    nth += 1;
                }
            }
        }
        // In bytes a picture is held as it travels, and what a page shows has no alpha that would be divided out.
        let [take_in, give_out] = [Portable::TakeIn, Portable::GiveOut].map(|program| match pixels {
            PixelMode::Encoded8Bit => None,
            PixelMode::LinearFloat => Some(recorder.program(program, pixels)),
        });
        let in_halves = frames.iter().flat_map(|frame| &frame.pictures).any(|parts| parts.len() > 1);
        let join = in_halves.then(|| recorder.program(Portable::Joined, pixels));
        Ok(Self {
            name: about.name.to_owned(),
            about: about.about.to_owned(),
            size: path.moment.frame,
            pixels,
            tempo_bpm: path.moment.tempo_bpm,
            chain: path.chain.clone(),
            labels: labels(&path.chain),
            programs: recorder.programs.all,
            of_effects,
            take_in,
            join,
            give_out,
            frames,
            first,
            remembers,
            apart,
            pictures: recorder.pictures.all,
            tables: recorder.tables.all,
            found: found(about.explored, &path.chain),
            pairs: pairs_told(about.swaps, about.explored),
        })
    }

    /// What the chain is called.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Whether it plays.
    fn plays(&self) -> bool {
        self.frames.len() > 1
    }

    /// Leaves out every second moment; says whether there were any to leave out. What is made of the frames before it
    /// keeps all of them.
    fn halve(&mut self) -> bool {
        if self.remembers || self.frames.len() < 2 {
            return false;
        }
        let mut nth = 0;
        self.frames.retain(|_| {
            nth += 1;
            nth % 2 == 1
        });
        self.apart *= 2.0;
        self.keep_what_is_used();
        true
    }

    fn keep_what_is_used(&mut self) {
        let mut places = HashMap::new();
        let mut pictures = Vec::new();
        for frame in &mut self.frames {
            for picture in frame.pictures.iter_mut().flatten() {
                *picture = *places.entry(*picture).or_insert_with(|| {
                    pictures.push(self.pictures[*picture].clone());
                    pictures.len() - 1
                });
            }
        }
        self.pictures = pictures;
    }

    /// The recording; what stages share is put where they find it.
    fn json(&self, shared: &mut Shared) -> Json {
        let programs: Vec<usize> = self.programs.iter().map(|program| shared.program(program)).collect();
        let pictures: Vec<usize> = self.pictures.iter().map(|picture| shared.picture(picture)).collect();
        let tables: Vec<usize> = self.tables.iter().map(|table| shared.table(table)).collect();
        let levels: Vec<f32> = (0..=255_u8).map(|level| self.level(level)).collect();
        let frames = self.frames.iter().map(|frame| frame_json(frame, &programs, &pictures, &tables));
        let program = |place: Option<usize>| place.map(|place| programs[place]);
        let mut json = json!({
            "size": [self.size.width, self.size.height],
            "programs": programs,
            "effects": (0..self.chain.len()).map(|place| self.effect_json(place, &programs)).collect::<Vec<_>>(),
            "takeIn": program(self.take_in),
            "join": program(self.join),
            "giveOut": program(self.give_out),
            "frames": frames.collect::<Vec<_>>(),
            "shown": self.first,
            "remembers": self.remembers,
            "milliseconds": self.apart * 60_000.0 / self.tempo_bpm,
            "levels": shared.levels(levels),
            "head": self.head(),
        });
        if let (Some(json), Some(found)) = (json.as_object_mut(), self.found.as_object()) {
            json.extend(found.clone());
        }
        json
    }

    /// A channel of a colour as its effect reads it.
    fn level(&self, level: u8) -> f32 {
        let colour = crate::base::colour::Colour([level; 3]);
        let channels = match self.pixels {
            PixelMode::Encoded8Bit => colour.encoded(),
            PixelMode::LinearFloat => colour.linear(),
        };
        channels[0] as f32
    }

    fn head(&self) -> String {
        let (name, about) = (self.name.clone(), self.about.clone());
        // What steers words is written as TOML writes it, for the page and for the file alike.
        shown(&chain_text(&Preset { name, about, tags: Vec::new(), chain: Vec::new(), controls: Vec::new() }))
            .into_owned()
    }

    fn effect_json(&self, place: usize, programs: &[usize]) -> Json {
        let used = &self.chain[place];
        let effect = &used.effect;
        let (program, past) = self.of_effects[place];
        let marks = marks(&self.chain);
        let settings =
            effect.settings.iter().enumerate().map(|(at, setting)| setting_json(used, at, setting));
        let derived = derived_from_settings(effect).map(|(derived, at)| {
            let bytes =
                derived.kind.at(&Moment::at(self.size, self.pixels, self.tempo_bpm, 0.0), |_| 0.0).bytes();
            json!({ "at": at, "size": bytes.len(), "from": inputs_of(effect, derived) })
        });
        // The mark goes with the effect, wherever it is put.
        let mut marked = used.clone();
        marked.mark = Some(marks.of(place));
        let text = chain_text(&Preset {
            name: String::new(),
            about: String::new(),
            tags: Vec::new(),
            chain: vec![marked],
            controls: Vec::new(),
        });
        let block = shown(text.find("[[effect]]").map_or("", |at| &text[at..]));
        json!({
            "mark": marks.of(place).to_string(),
            "label": shown(&self.labels[place]),
            "on": used.on,
            "program": programs[program],
            "past": past.map(|past| programs[past]),
            "settings": settings.collect::<Vec<_>>(),
            "derived": derived.collect::<Vec<_>>(),
            "text": block,
        })
    }
}
