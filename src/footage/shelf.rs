//! The footage opened so far, and the pictures made of it lately.

use std::fmt;
use std::path::Path;
use std::sync::{Arc, Mutex};
use std::time::SystemTime;

use super::Shown;
use super::card::card;
use super::decoder::{Decoder, locked};
use super::error::FootageError;
use super::kept::{FrameStore, Key};
use super::play::{Due, due};
use super::reel::Reel;
use crate::base::content::Content;
use crate::base::frame::Frame;
use crate::base::inputs::note_read;
use crate::base::picture::Picture;
use crate::beat::Moment;
use crate::catalogue::Catalogue;
use crate::show::chain::EffectUse;
use crate::show::clip::{Fit, FootageName, Play, StandIn};

/// Bytes of fitted pictures that a shelf keeps, of all its footage together. Beside them each footage that moves
/// holds one frame as it was decoded, and what its decoder needs.
pub const KEPT_BYTES: usize = 256 << 20;

/// Bytes of cards that are kept.
const CARD_BYTES: usize = 64 << 20;

/// A card that stands in for footage, as it was drawn.
#[derive(Debug)]
struct Card {
    kind: StandIn,
    label: String,
    frame: Frame,
    picture: Arc<Picture>,
}

/// The footage opened so far; a file is looked at once, so a new shelf sees what has changed on disk.
#[derive(Debug)]
pub struct Shelf {
    catalogue: Catalogue,
    /// One for each file and way to play it: two ways stand at two places of the file.
    opened: Vec<(Play, Decoder)>,
    kept: Arc<Mutex<FrameStore>>,
    /// The cards of stand-ins, the latest last.
    cards: Vec<Card>,
    waits: bool,
    given_up: Option<GivenUp>,
    stood_in: bool,
    /// When it was empty: whatever it holds was read later.
    begun: SystemTime,
}

/// Says whether nobody waits any more for what the shelf is asked for.
#[derive(Clone)]
struct GivenUp(Arc<dyn Fn() -> bool + Send + Sync>);

impl fmt::Debug for GivenUp {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "GivenUp({})", self.0())
    }
}

impl Shelf {
    /// An empty shelf that waits for every picture; generated sources come from `catalogue`.
    pub fn new(catalogue: &Catalogue) -> Self {
        Self::within(catalogue, KEPT_BYTES)
    }

    /// The same with another budget for the pictures that it keeps.
    pub fn within(catalogue: &Catalogue, budget_bytes: usize) -> Self {
        Self {
            catalogue: catalogue.clone(),
            opened: Vec::new(),
            kept: Arc::new(Mutex::new(FrameStore::new(budget_bytes))),
            cards: Vec::new(),
            waits: true,
            given_up: None,
            stood_in: false,
            begun: SystemTime::now(),
        }
    }

    /// An empty shelf that never waits: what is not made yet is asked for, and the nearest picture of
    /// the footage stands in for it.
    pub fn live(catalogue: &Catalogue) -> Self {
        Self { waits: false, ..Self::new(catalogue) }
    }

    /// The generated sources that clips may name, each by what stands for its text.
    pub fn sources(&self) -> Vec<(&str, Content)> {
        self.catalogue.sources().iter().map(|source| (&*source.name, source.content)).collect()
    }

    /// When it was empty: whatever it holds was read later.
    pub fn begun(&self) -> SystemTime {
        self.begun
    }

    /// Waits no longer than until `is_given_up`: opening a long film takes its time.
    pub fn give_up_when(&mut self, is_given_up: impl Fn() -> bool + Send + Sync + 'static) {
        self.given_up = Some(GivenUp(Arc::new(is_given_up)));
    }

    /// Takes generated sources from another catalogue; what was opened stays open.
    pub fn take_catalogue(&mut self, catalogue: &Catalogue) {
        self.catalogue = catalogue.clone();
    }

    /// Whether, since this was asked last, something stood in for a picture that is still being made.
    pub fn take_stood_in(&mut self) -> bool {
        std::mem::take(&mut self.stood_in)
    }

    /// Bytes of the pictures that are kept now: at most the budget, or one picture that is larger.
    pub fn kept_bytes(&self) -> usize {
        locked(&self.kept).bytes()
    }

    /// What a clip shows at `moment`, at the moment's frame size.
    ///
    /// # Errors
    /// [`FootageError`], naming the file and the remedy.
    pub fn shown(
        &mut self,
        footage: &FootageName,
        fit: Fit,
        play: &Play,
        moment: &Moment,
    ) -> Result<Shown, FootageError> {
        let path = match footage {
            FootageName::Generated(name) => {
                let effect = self.catalogue.source(name)?;
                // Until it is confirmed, a source of one's own may leave holes.
                let opaque = effect.opaque && effect.is_trusted();
                return Ok(Shown::Generated {
                    call: EffectUse::new(Arc::clone(effect)).call(moment),
                    opaque,
                });
            }
            FootageName::StandIn(kind, label) => {
                return self.card(*kind, label, moment.frame).map(Shown::Pixels);
            }
            FootageName::File { path, .. } => path,
        };
        let at = self.decoder(path, play)?;
        let (_, decoder) = &self.opened[at];
        let is_given_up = || self.given_up.as_ref().is_some_and(|given_up| given_up.0());
        loop {
            let Some(timing) = decoder.timing(self.waits, &is_given_up)? else {
                self.stood_in = true;
                return Ok(Shown::Nothing);
            };
            let number = match due(play, &timing, moment) {
                Due::Frame(number) => number,
                Due::Nothing => return Ok(Shown::Nothing),
                Due::PastEnd(length_secs) => {
                    let (path, in_secs) = (path.clone(), play.in_secs);
                    return Err(FootageError::PastEnd { path, length_secs, in_secs });
                }
                Due::Unmeasured => return Err(FootageError::Unmeasured { path: path.clone() }),
            };
            let key = Key { path: Arc::clone(decoder.path()), number, fit, frame: moment.frame };
            if self.waits {
                match decoder.wait_for(&key, &is_given_up)? {
                    Some(picture) => return Ok(Shown::Pixels(picture)),
                    // The footage turned out to end sooner: another frame is due.
                    None => continue,
                }
            }
            if let Some(picture) = decoder.ask(&key)? {
                return Ok(Shown::Pixels(picture));
            }
            self.stood_in = true;
            let nearest = locked(&self.kept).nearest(&key);
            return Ok(nearest.map_or(Shown::Nothing, Shown::Pixels));
        }
    }

    /// The card of a stand-in; one that was drawn lately is the same picture again.
    fn card(&mut self, kind: StandIn, label: &str, frame: Frame) -> Result<Arc<Picture>, FootageError> {
        let is_it = |card: &&Card| card.frame == frame && card.kind == kind && card.label == label;
        if let Some(known) = self.cards.iter().find(is_it) {
            return Ok(Arc::clone(&known.picture));
        }
        let picture = card(kind, label, frame)
            .map_err(|why| FootageError::StandIn { label: label.to_owned(), why: why.to_string() })?;
        let picture = Arc::new(picture);
        self.cards.push(Card { kind, label: label.to_owned(), frame, picture: Arc::clone(&picture) });
        let bytes = |cards: &[Card]| cards.iter().map(|card| card.picture.rgba.len()).sum::<usize>();
        while self.cards.len() > 1 && bytes(&self.cards) > CARD_BYTES {
            self.cards.remove(0);
        }
        Ok(picture)
    }

    fn decoder(&mut self, path: &Path, play: &Play) -> Result<usize, FootageError> {
        let is_it = |(known, decoder): &(Play, Decoder)| known == play && **decoder.path() == *path;
        if let Some(at) = self.opened.iter().position(is_it) {
            return Ok(at);
        }
        note_read(path);
        self.opened.push((*play, Decoder::start(path, &self.kept)?));
        Ok(self.opened.len() - 1)
    }

    /// How the opening of a clip's footage stands: nothing while it is on its way.
    pub fn opened(&mut self, footage: &FootageName, play: &Play) -> Option<Result<(), FootageError>> {
        let FootageName::File { path, .. } = footage else { return Some(Ok(())) };
        let at = match self.decoder(path, play) {
            Ok(at) => at,
            Err(error) => return Some(Err(error)),
        };
        match self.opened[at].1.timing(false, &|| false) {
            Ok(timing) => timing.map(|_| Ok(())),
            Err(error) => Some(Err(error)),
        }
    }

    /// Whether any frame of footage that moves may be transparent, without going through it all; a still, and what
    /// is generated, is as it is shown.
    ///
    /// # Errors
    /// As [`Self::check`].
    pub fn may_be_transparent(&self, footage: &FootageName) -> Result<bool, FootageError> {
        match footage {
            FootageName::Generated(_) | FootageName::StandIn(..) => Ok(false),
            FootageName::File { path, .. } => Reel::may_be_transparent(path),
        }
    }

    /// Checks that the footage can be opened: its name, and of its first picture the header.
    ///
    /// # Errors
    /// As [`Self::shown`], without those that only decoding finds.
    pub fn check(&mut self, footage: &FootageName) -> Result<(), FootageError> {
        match footage {
            FootageName::Generated(name) => Ok(self.catalogue.source(name).map(drop)?),
            FootageName::StandIn(..) => Ok(()),
            FootageName::File { path, .. } => {
                note_read(path);
                Reel::check(path)
            }
        }
    }

    /// The same at once: a film is looked at no further than its first bytes.
    ///
    /// # Errors
    /// As [`Self::check`]; what is wrong with a film shows when it is opened.
    pub fn glance(&mut self, footage: &FootageName) -> Result<(), FootageError> {
        match footage {
            FootageName::File { path, .. } if Reel::takes_long_to_open(path) => Ok(()),
            footage => self.check(footage),
        }
    }
}
