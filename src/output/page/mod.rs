//! A page that is alive: a chain, in one HTML file, that a browser runs itself.
//!
//! What the browser runs is written here: the shaders that the renderer dispatches, the bytes that they read at each
//! moment, and the pictures that every order has in common. `live.js` executes that and knows no effect. Where settings
//! feed what the program works out, the page holds a table of what comes of them, so that no sum stands in it twice.

mod stage;
mod stops;
mod told;

use std::collections::HashMap;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use image::RgbaImage;
use serde_json::{Value as Json, json};

use self::stops::stops;
use self::told::{found, frame_json, setting_json};
use crate::base::frame::{Frame, PixelMode};
use crate::base::picture::Picture;
use crate::base::shown::shown;
use crate::beat::Moment;
use crate::catalogue::{Derived, Effect, Input, Value};
use crate::drawing::page::{Image, ImageError, Page};
use crate::explore::Exploration;
use crate::files::chain_text;
use crate::gpu::{Portable, RenderError, Renderer, WrittenProgram, mix_bytes};
use crate::order::{MOST_EFFECTS, marks};
use crate::output::report::ReportError;
use crate::plan::{After, Path};
use crate::show::Mix;
use crate::show::chain::{EffectUse, PastId, Preset, labels};

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
    give_out: usize,
    frames: Vec<RecordedFrame>,
    /// Which of them is shown first.
    first: usize,
    /// Whether each is made of those before it.
    remembers: bool,
    /// Beats from one frame to the next.
    apart: f64,
    pictures: Vec<Image>,
    tables: Vec<Vec<u8>>,
    found: Json,
}

/// What differs from frame to frame.
#[derive(Debug, Clone)]
struct RecordedFrame {
    beats: f64,
    pictures: Vec<usize>,
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

/// Things of which equal ones are kept once, by their place.
#[derive(Debug)]
struct Once<T> {
    all: Vec<T>,
    known: HashMap<Vec<u8>, usize>,
}

impl<T> Default for Once<T> {
    fn default() -> Self {
        Self { all: Vec::new(), known: HashMap::new() }
    }
}

impl<T> Once<T> {
    fn put<E>(&mut self, key: Vec<u8>, made: impl FnOnce() -> Result<T, E>) -> Result<usize, E> {
        if let Some(&at) = self.known.get(&key) {
            return Ok(at);
        }
        self.all.push(made()?);
        self.known.insert(key, self.all.len() - 1);
        Ok(self.all.len() - 1)
    }
}

/// While a chain is recorded.
#[derive(Default)]
struct Recorder {
    programs: Once<WrittenProgram>,
    pictures: Once<Image>,
    tables: Once<Vec<u8>>,
}

impl Recorder {
    fn program(&mut self, program: Portable<'_>, pixels: PixelMode) -> usize {
        let written = program.written(pixels);
        let key = written.code.clone().into_bytes();
        let Ok(at) = self.programs.put(key, || Ok::<_, std::convert::Infallible>(written));
        at
    }

    fn effect(&mut self, effect: &Effect, pixels: PixelMode) -> (usize, Option<usize>) {
        let past = effect.remembers().then(|| self.program(Portable::Past(effect), pixels));
        (self.program(Portable::Effect(effect), pixels), past)
    }

    fn picture(&mut self, picture: Picture) -> Result<usize, ImageError> {
        let Frame { width, height } = picture.frame;
        let key = picture.rgba.clone();
        self.pictures.put(key, || {
            let whole = RgbaImage::from_raw(width, height, picture.rgba).unwrap_or_default();
            Image::exact(&whole, "")
        })
    }

    /// What its pictures take on a page.
    fn bytes(&self) -> usize {
        self.pictures.all.iter().map(|picture| picture.uri().len()).sum()
    }

    fn table(&mut self, bytes: Vec<u8>) -> usize {
        let Ok(at) = self.tables.put(bytes.clone(), || Ok::<_, std::convert::Infallible>(bytes));
        at
    }

    fn frame(&mut self, path: &Path, pictures: Vec<Picture>) -> Result<RecordedFrame, ImageError> {
        let (moment, pixels) = (&path.moment, path.moment.pixels);
        let mut kept = Vec::with_capacity(pictures.len() + 1);
        for picture in pictures {
            kept.push(self.picture(picture)?);
        }
        let mut after = Vec::with_capacity(path.after.len() + 1);
        for step in &path.after {
            let lay = |kind, mix: Mix, program| RecordedAfter {
                kind,
                program,
                past: None,
                id: String::new(),
                bytes: mix_bytes(mix),
            };
            after.push(match step {
                After::Apply(call) => {
                    let (program, past) = self.effect(&call.effect, pixels);
                    let past = past.filter(|_| call.past.is_some());
                    let id = call.past.map_or_else(String::new, |PastId { chain, place }| {
                        format!("{} {place}", chain.map_or(MOST_EFFECTS, |chain| chain + MOST_EFFECTS))
                    });
                    RecordedAfter { kind: "apply", program, past, id, bytes: call.uniform.clone() }
                }
                After::LayOver { mix, .. } => lay("over", *mix, self.program(Portable::Lay, pixels)),
                After::LayUnder { mix, .. } => lay("under", *mix, self.program(Portable::Lay, pixels)),
            });
        }
        // A screen shows what is transparent over black.
        if !path.ends_opaque() {
            let frame = moment.frame;
            let rgba = [0, 0, 0, 255].repeat(frame.texels() as usize);
            kept.push(self.picture(Picture { frame, rgba, opaque: true })?);
            let program = self.program(Portable::Lay, pixels);
            let bytes = mix_bytes(Mix::default());
            after.push(RecordedAfter { kind: "over", program, past: None, id: String::new(), bytes });
        }
        let tables = path.chain.iter().map(|used| {
            let derived = derived_from_settings(&used.effect);
            derived.map(|(derived, _)| self.table(table(used, derived, moment))).collect()
        });
        let tables = tables.collect();
        let settings = path.chain.iter().map(|used| used.call(moment).uniform).collect();
        Ok(RecordedFrame { beats: moment.beats, pictures: kept, settings, tables, after })
    }
}

/// What an effect's settings feed that its shader reads, with its offset.
fn derived_from_settings(effect: &Effect) -> impl Iterator<Item = (&Derived, u32)> {
    effect.derived.iter().filter_map(|derived| {
        let feeds = derived.kind.inputs().iter().any(|input| matches!(input, Input::Setting(_)));
        let (_, offset, _) = effect.layout.members.iter().find(|(name, ..)| *name == derived.name)?;
        feeds.then_some((derived, *offset))
    })
}

/// The places of the settings that something is worked out from.
fn inputs_of(effect: &Effect, derived: &Derived) -> Vec<usize> {
    let mut places = Vec::new();
    for input in derived.kind.inputs() {
        let Input::Setting(name) = input else { continue };
        let place = effect.settings.iter().position(|setting| setting.name == *name);
        places.extend(place.filter(|place| !places.contains(place)));
    }
    places
}

/// The most settings that anything is worked out from together with this one; none where nothing is.
fn fed(effect: &Effect, place: usize) -> Option<usize> {
    let inputs = derived_from_settings(effect).map(|(derived, _)| inputs_of(effect, derived));
    inputs.filter(|inputs| inputs.contains(&place)).map(|inputs| inputs.len()).max()
}

/// The values that a setting may have in the page, where others follow from it.
fn stops_of(used: &EffectUse, place: usize) -> Option<Vec<f64>> {
    let together = fed(&used.effect, place)?;
    let own = used.values().nth(place).and_then(Value::as_number);
    Some(stops(&used.effect.settings[place].kind, together, own))
}

/// What is worked out for every combination of its settings' values: of each its own at the moment first, then its
/// stops; the last setting changes fastest.
fn table(used: &EffectUse, derived: &Derived, moment: &Moment) -> Vec<u8> {
    let effect = &used.effect;
    let inputs = inputs_of(effect, derived);
    let values_now = used.values_at(moment);
    let own = |place: usize| values_now[place].as_number().unwrap_or(0.0);
    let values: Vec<Vec<f64>> = inputs
        .iter()
        .map(|&place| [own(place)].into_iter().chain(stops_of(used, place).unwrap_or_default()).collect())
        .collect();
    let rows: usize = values.iter().map(Vec::len).product();
    let mut bytes = Vec::new();
    for row in 0..rows {
        let mut rest = row;
        let mut chosen = vec![0.0; inputs.len()];
        for (slot, values) in values.iter().enumerate().rev() {
            chosen[slot] = values[rest % values.len()];
            rest /= values.len();
        }
        let number = |input: &Input| match input {
            Input::Constant(constant) => *constant,
            Input::Setting(name) => {
                let slot = inputs.iter().position(|&place| effect.settings[place].name == *name);
                slot.map_or(0.0, |slot| chosen[slot])
            }
        };
        bytes.extend(derived.kind.at(moment, number).bytes());
    }
    bytes
}

/// What a chain is called where it is taken along, and what is known of its orders.
#[derive(Debug, Clone)]
pub struct About<'a> {
    pub name: &'a str,
    pub about: &'a str,
    /// Whether it plays on from its moment.
    pub plays: bool,
    /// Where its orders were explored.
    pub explored: Option<&'a Exploration>,
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
        let still = last_of(pictures.clone());
        for (one, pictures) in path.frames().zip(pictures) {
            frames.push(recorder.frame(one, pictures)?);
        }
        let first = frames.len() - 1;
        if !remembers && about.plays {
            let step = (1.0 / (path.moment.beats_a_frame() * MOMENTS_A_BEAT as f64)).round().max(1.0) as u64;
            apart *= step as f64;
            let mut beats = BEATS[0];
            let mut nth = 1;
            while nth < beats * MOMENTS_A_BEAT && recorder.bytes() < PAGE_BYTES {
                let later = path_at(path.moment.after(nth * step))?;
                // What is made the same way is the same picture.
                let pictures = if later.before == path.before && later.slots_kept() == path.slots_kept() {
                    still.clone()
                } else {
                    last_of(renderer.kept_pictures(&later).map_err(RenderError::from)?)
                };
                frames.push(recorder.frame(&later, pictures)?);
                if frames.iter().any(|frame| frame.pictures != frames[0].pictures) {
                    beats = BEATS[1];
                }
                nth += 1;
            }
        }
        let take_in = match pixels {
            PixelMode::Encoded8Bit => None,
            PixelMode::LinearFloat => Some(recorder.program(Portable::TakeIn, pixels)),
        };
        let give_out = recorder.program(Portable::GiveOut, pixels);
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
            give_out,
            frames,
            first,
            remembers,
            apart,
            pictures: recorder.pictures.all,
            tables: recorder.tables.all,
            found: found(about.explored, &path.chain),
        })
    }

    /// The text of a page that runs it: with fewer moments, where it would take more than `most` bytes.
    ///
    /// # Errors
    /// What `page` gives.
    pub fn html_within<E>(
        &self,
        most: usize,
        page: impl FnOnce(&Self) -> Result<Page, E>,
    ) -> Result<String, E> {
        let mut page = page(self)?;
        let room = most.saturating_sub(page.html().len());
        let mut text = self.text();
        if text.len() > room {
            let mut fewer = self.clone();
            fewer.within(room);
            text = fewer.text();
        }
        Ok(page.live(SCRIPT, vec![text]).html())
    }

    /// What the chain is called.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Whether it plays.
    fn plays(&self) -> bool {
        self.frames.len() > 1
    }

    /// With moments left out, every second one, until its text takes no more than so many bytes or one moment is left.
    /// What is made of the frames before it keeps all of them.
    fn within(&mut self, bytes: usize) {
        while !self.remembers && self.frames.len() > 1 && self.text().len() > bytes {
            let mut nth = 0;
            self.frames.retain(|_| {
                nth += 1;
                nth % 2 == 1
            });
            self.apart *= 2.0;
            self.keep_what_is_used();
        }
    }

    fn keep_what_is_used(&mut self) {
        let mut places = HashMap::new();
        let mut pictures = Vec::new();
        for frame in &mut self.frames {
            for picture in &mut frame.pictures {
                *picture = *places.entry(*picture).or_insert_with(|| {
                    pictures.push(self.pictures[*picture].clone());
                    pictures.len() - 1
                });
            }
        }
        self.pictures = pictures;
    }

    /// The recording, as text for a script: nothing in it reads as markup.
    pub fn text(&self) -> String {
        self.json()
            .to_string()
            .replace('<', "\\u003c")
            .replace('\u{2028}', "\\u2028")
            .replace('\u{2029}', "\\u2029")
    }

    fn json(&self) -> Json {
        let programs = self.programs.iter().map(|program| {
            json!({
                "code": program.code,
                "entry": program.entry_point,
                "bindings": program.bindings,
                "format": program.format,
                "texels": program.texels,
            })
        });
        let mut json = json!({
            "size": [self.size.width, self.size.height],
            "programs": programs.collect::<Vec<_>>(),
            "effects": (0..self.chain.len()).map(|place| self.effect_json(place)).collect::<Vec<_>>(),
            "takeIn": self.take_in,
            "giveOut": self.give_out,
            "frames": self.frames.iter().map(frame_json).collect::<Vec<_>>(),
            "shown": self.first,
            "remembers": self.remembers,
            "milliseconds": self.apart * 60_000.0 / self.tempo_bpm,
            "pictures": self.pictures.iter().map(Image::uri).collect::<Vec<_>>(),
            "tables": self.tables.iter().map(|table| STANDARD.encode(table)).collect::<Vec<_>>(),
            "levels": (0..=255_u8).map(|level| self.level(level)).collect::<Vec<_>>(),
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

    fn effect_json(&self, place: usize) -> Json {
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
            "program": program,
            "past": past,
            "settings": settings.collect::<Vec<_>>(),
            "derived": derived.collect::<Vec<_>>(),
            "text": block,
        })
    }
}

/// The pictures of the last frame.
fn last_of(mut frames: Vec<Vec<Picture>>) -> Vec<Picture> {
    frames.pop().unwrap_or_default()
}
