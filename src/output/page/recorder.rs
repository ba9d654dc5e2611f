//! What a page's chain is made of, gathered: programs, pictures and tables, equal ones once.

use std::collections::HashMap;
use std::convert::Infallible;

use super::packed::Packed;
use super::stops::stops;
use super::{RecordedAfter, RecordedFrame};
use crate::base::at_once::at_once;
use crate::base::content::Content;
use crate::base::frame::PixelMode;
use crate::base::picture::Picture;
use crate::beat::Moment;
use crate::catalogue::{Derived, Effect, Input, Value};
use crate::gpu::{Kept, Portable, WrittenProgram, mix_bytes};
use crate::order::MOST_EFFECTS;
use crate::plan::{After, Path};
use crate::show::Mix;
use crate::show::chain::{EffectUse, PastId};

/// Things of which equal ones are kept once, by their place.
#[derive(Debug)]
pub(super) struct Once<T> {
    pub(super) all: Vec<T>,
    known: HashMap<Content, usize>,
}

impl<T> Default for Once<T> {
    fn default() -> Self {
        Self { all: Vec::new(), known: HashMap::new() }
    }
}

impl<T> Once<T> {
    /// The place of what is made of something with this content.
    pub(super) fn put<E>(&mut self, key: Content, made: impl FnOnce() -> Result<T, E>) -> Result<usize, E> {
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
pub(super) struct Recorder {
    pub(super) programs: Once<WrittenProgram>,
    pub(super) pictures: Once<Packed>,
    pub(super) tables: Once<Vec<u8>>,
    /// Pictures that are encoded and not yet asked for.
    ready: HashMap<Content, Packed>,
}

impl Recorder {
    pub(super) fn program(&mut self, program: Portable<'_>, pixels: PixelMode) -> usize {
        let written = program.written(pixels);
        let key = Content::of(&written.code);
        let Ok(at) = self.programs.put(key, || Ok::<_, Infallible>(written));
        at
    }

    pub(super) fn effect(&mut self, effect: &Effect, pixels: PixelMode) -> (usize, Option<usize>) {
        let past = effect.remembers().then(|| self.program(Portable::Past(effect), pixels));
        (self.program(Portable::Effect(effect), pixels), past)
    }

    /// Packs pictures that will be asked for, all at once.
    pub(super) fn make_ready<'a>(&mut self, kept: impl IntoIterator<Item = &'a Kept>) {
        let mut wanted: Vec<(Content, &Picture)> = Vec::new();
        for picture in kept.into_iter().flat_map(parts) {
            let key = content(picture);
            let is_known = self.pictures.known.contains_key(&key) || self.ready.contains_key(&key);
            if !is_known && !wanted.iter().any(|(wanted, _)| *wanted == key) {
                wanted.push((key, picture));
            }
        }
        let packed = at_once(&wanted, |(_, picture)| Packed::of(picture));
        self.ready.extend(wanted.into_iter().map(|(key, _)| key).zip(packed));
    }

    fn picture(&mut self, picture: &Picture) -> usize {
        let key = content(picture);
        let ready = self.ready.remove(&key);
        let Ok(at) =
            self.pictures.put(key, || Ok::<_, Infallible>(ready.unwrap_or_else(|| Packed::of(picture))));
        at
    }

    /// What its pictures take on a page.
    pub(super) fn bytes(&self) -> usize {
        self.pictures.all.iter().map(|picture| picture.text.len()).sum()
    }

    fn table(&mut self, bytes: Vec<u8>) -> usize {
        let Ok(at) = self.tables.put(Content::of(&bytes), || Ok::<_, Infallible>(bytes));
        at
    }

    pub(super) fn frame(&mut self, path: &Path, pictures: &[Kept]) -> RecordedFrame {
        let (moment, pixels) = (&path.moment, path.moment.pixels);
        let mut kept = Vec::with_capacity(pictures.len() + 1);
        for picture in pictures {
            kept.push(parts(picture).map(|part| self.picture(part)).collect());
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
            kept.push(vec![self.picture(&Picture { frame, rgba, opaque: true })]);
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
        RecordedFrame { beats: moment.beats, pictures: kept, settings, tables, after }
    }
}

/// What a picture travels as.
fn parts(kept: &Kept) -> impl Iterator<Item = &Picture> {
    match kept {
        Kept::Whole(picture) => std::slice::from_ref(picture),
        Kept::Halves(halves) => &halves[..],
    }
    .iter()
}

fn content(picture: &Picture) -> Content {
    let frame = picture.frame;
    Content::of_values((frame.width, frame.height, &picture.rgba))
}

/// What an effect's settings feed that its shader reads, with its offset.
pub(super) fn derived_from_settings(effect: &Effect) -> impl Iterator<Item = (&Derived, u32)> {
    effect.derived.iter().filter_map(|derived| {
        let feeds = derived.kind.inputs().iter().any(|input| matches!(input, Input::Setting(_)));
        let (_, offset, _) = effect.layout.members.iter().find(|(name, ..)| *name == derived.name)?;
        feeds.then_some((derived, *offset))
    })
}

/// The places of the settings that something is worked out from.
pub(super) fn inputs_of(effect: &Effect, derived: &Derived) -> Vec<usize> {
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
pub(super) fn stops_of(used: &EffectUse, place: usize) -> Option<Vec<f64>> {
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
