//! Orders on several pieces of footage: which these are, exploring them, and what JSON says of them.

use std::path::Path;
use std::slice;

use anyhow::bail;
use serde::Serialize;

use super::documents::Documents;
use super::figures::{DifferenceFigures, rounded};
use super::keep_one::{self, OfSection};
use super::opened::Opened;
use super::order_flashes::{Counted, FlashFigures, FlashesOfOrders};
use super::progress::Progress;
use super::subject::{Subject, planned};
use super::{WrongWords, note};
use crate::base::coding::ColourCode;
use crate::base::doing::doing_counted;
use crate::base::frame::Frame;
use crate::base::inputs::note_read;
use crate::base::picture::Picture;
use crate::base::place::listed;
use crate::beat::Moment;
use crate::catalogue::Catalogue;
use crate::explore::judging::{Judged, Judging};
use crate::explore::over_time::Stretch;
use crate::explore::pieces::{Frames, OnPieces, Piece, Proved};
use crate::explore::wish::{By, Wish};
use crate::explore::{Exploration, Part};
use crate::footage::{MOST_PIECES, Pieces, PiecesError, Shelf, piece_names};
use crate::gpu::{Budget, Want};
use crate::order::LEAST_SHARE;
use crate::output::wall::TileGrid;
use crate::show::InTurn;
use crate::show::clip::FootageName;

/// Pieces of footage under one chain.
pub(super) struct PieceList {
    list: Vec<PieceOf>,
    /// What these are where they are sections.
    sections: Vec<OfSection>,
}

struct PieceOf {
    name: String,
    /// What it shows, as one would name it.
    written: String,
    is_stand_in: bool,
    colour: Option<ColourCode>,
    opened: Opened,
}

/// What is asked of them.
pub(super) struct Asked<'a> {
    /// Beats, and frames a second of which pictures are compared.
    pub(super) over: Option<(f64, Option<f64>)>,
    pub(super) of_orders: Judging<'a>,
}

/// What was found on them.
pub(super) struct FoundOnPieces {
    pub(super) explored: Exploration,
    pub(super) parts: Vec<Part>,
    pub(super) wish: Option<Wish>,
}

/// The pieces that `--footage` names, if these are several, with what has to be known of how they were found.
pub(super) fn named(words: &[String]) -> Result<Option<Pieces>, WrongWords> {
    let pieces =
        Pieces::named(words).map_err(|error: PiecesError| WrongWords(format!("--footage: {error}")))?;
    for told in pieces.iter().flat_map(|pieces| &pieces.told) {
        note(&format!("note: {told}"));
    }
    // No output may take the place of any of them.
    for written in pieces.iter().flat_map(|pieces| &pieces.written) {
        note_read(Path::new(written));
    }
    Ok(pieces)
}

/// Refuses pieces of footage that cannot be opened, before any is rendered.
pub(super) fn look_at_all(pieces: &Pieces, catalogue: &Catalogue) -> anyhow::Result<()> {
    let footage = footage_of(pieces);
    let names = piece_names(&footage);
    look_at(catalogue, "--footage", &names, footage.into_iter().map(|footage| vec![footage]))
}

fn footage_of(pieces: &Pieces) -> Vec<FootageName> {
    pieces.written.iter().map(|written| FootageName::parsed(written, Path::new(""))).collect()
}

/// Looks at what each piece shows: the first that cannot be opened is told with what is wrong, the others are named.
fn look_at(
    catalogue: &Catalogue,
    option: &str,
    names: &[String],
    pieces: impl Iterator<Item = Vec<FootageName>>,
) -> anyhow::Result<()> {
    let looking = doing_counted("looking at the footage", "pieces", names.len());
    let mut shelf = Shelf::new(catalogue);
    let mut wrong = Vec::new();
    for (at, footage) in pieces.enumerate() {
        looking.done(at);
        let result = footage.iter().try_for_each(|footage| shelf.check(footage));
        wrong.extend(result.err().map(|error| (at, error)));
    }
    drop(looking);
    let Some((at, error)) = wrong.first() else { return Ok(()) };
    let place = place(&names[*at], *at, names.len());
    let more: Vec<&str> = wrong[1..].iter().map(|&(at, _)| &names[at][..]).collect();
    let more = match more.len() {
        0 => "; or leave it out".to_owned(),
        _ => format!("; nor can {} be shown", listed(more)),
    };
    Err(anyhow::anyhow!("{option}: {place}: {error}{more}"))
}

/// "piece 3 of 9 (quay.mp4)".
fn place(name: &str, at: usize, count: usize) -> String {
    format!("piece {} of {count} ({name})", at + 1)
}

impl PieceList {
    /// Pieces of footage under the chain that was opened on the first of them.
    pub(super) fn of_footage(subject: &Subject, pieces: &Pieces) -> anyhow::Result<Self> {
        let Opened::Chain { preset, fit, .. } = &subject.opened else {
            return Err(WrongWords(
                "--footage: a show names its own footage; --clips looks at its clips in turn".to_owned(),
            )
            .into());
        };
        let footage = footage_of(pieces);
        let names = piece_names(&footage);
        let piece = |(footage, name): (FootageName, String)| PieceOf {
            name,
            written: footage.to_string(),
            is_stand_in: matches!(footage, FootageName::StandIn(..)),
            colour: None,
            opened: Opened::Chain { preset: preset.clone(), footage, fit: *fit },
        };
        let list = footage.into_iter().zip(names).map(piece).collect();
        Ok(Self { list, sections: Vec::new() })
    }

    /// The clips of the scope of a show in turn.
    pub(super) fn of_clips(subject: &Subject) -> anyhow::Result<Self> {
        let Opened::Show { show, scope } = &subject.opened else {
            return Err(WrongWords(format!(
                "--clips: {} is a chain, and only a show has clips; name several pieces with --footage",
                subject.name
            ))
            .into());
        };
        let piece = |turn: InTurn| {
            let footage = turn.footage(show);
            PieceOf {
                written: footage.map_or_else(|| turn.name.clone(), ToString::to_string),
                is_stand_in: matches!(footage, Some(FootageName::StandIn(..))),
                colour: turn.clip.and_then(|clip| show.colour(clip.into())),
                name: turn.name,
                opened: Opened::Show { show: turn.show, scope: *scope },
            }
        };
        let list: Vec<PieceOf> = show.clips_in_turn(*scope).into_iter().map(piece).collect();
        if list.len() == 1 {
            note(&format!("note: no level of {} has a second clip to look at", show.address(*scope)));
        }
        if list.len() > MOST_PIECES {
            return Err(WrongWords(format!(
                "--clips: {} has {} clips to look at in turn, and at most {MOST_PIECES} are looked at together; name a level with --scope",
                show.address(*scope),
                list.len()
            ))
            .into());
        }
        let clips = Self { list, sections: Vec::new() };
        clips.look_at_shows(subject, "--clips")?;
        Ok(clips)
    }

    /// The sections of a show in turn, those in which the scope shows.
    pub(super) fn of_sections(subject: &Subject, documents: &Documents) -> anyhow::Result<Self> {
        let Some((sections, hidden)) = keep_one::opened(subject, documents)? else {
            return Err(WrongWords(format!(
                "--sections: {} is a chain, and only a show has sections; leave it out",
                subject.name
            ))
            .into());
        };
        let scope = subject.scope().unwrap_or_default();
        if sections.is_empty() {
            return Err(WrongWords(match hidden.is_empty() {
                true => format!(
                    "--sections: {} has no sections; `underover edit section add` adds one",
                    subject.name
                ),
                false => format!("--sections: {scope} shows in no section; name another with --scope"),
            })
            .into());
        }
        if !hidden.is_empty() {
            note(&format!("note: {scope} does not show in {}", listed(hidden.iter().map(String::as_str))));
        }
        if sections.len() > MOST_PIECES {
            return Err(WrongWords(format!(
                "--sections: {} has {} sections, and at most {MOST_PIECES} are looked at together",
                subject.name,
                sections.len()
            ))
            .into());
        }
        let Opened::Show { scope, .. } = &subject.opened else { bail!("a show is no chain") };
        let piece = |section: &OfSection| PieceOf {
            name: section.name.clone(),
            written: section.name.clone(),
            is_stand_in: false,
            colour: section.colour,
            opened: Opened::Show { show: section.show.clone(), scope: *scope },
        };
        let list = Self { list: sections.iter().map(piece).collect(), sections };
        list.look_at_shows(subject, "--sections")?;
        Ok(list)
    }

    /// What these are where they are sections.
    pub(super) fn sections(&self) -> &[OfSection] {
        &self.sections
    }

    /// Refuses shows whose footage cannot be opened, before any is rendered.
    fn look_at_shows(&self, subject: &Subject, option: &str) -> anyhow::Result<()> {
        let list = &self.list;
        let shows = list.iter().map(|piece| match &piece.opened {
            Opened::Show { show, .. } => {
                let levels = show.bundles.iter().flat_map(|bundle| &bundle.levels);
                let clips = levels.filter_map(|level| level.clips.get(level.showing));
                clips.map(|clip| clip.footage.clone()).collect()
            }
            Opened::Chain { .. } => Vec::new(),
        });
        let names: Vec<String> = list.iter().map(|piece| piece.name.clone()).collect();
        look_at(&subject.catalogue, option, &names, shows)
    }

    pub(super) fn len(&self) -> usize {
        self.list.len()
    }

    /// "9 pieces: a.jpg, quay.mp4 and ...".
    pub(super) fn names_said(&self) -> String {
        let names: Vec<&str> = self.list.iter().map(|piece| piece.name.as_str()).collect();
        match names.len() {
            1 => names[0].to_owned(),
            count if count <= 6 => format!("{count} pieces: {}", names.join(", ")),
            count => format!("{count} pieces: {}, and {} more", names[..5].join(", "), count - 5),
        }
    }

    pub(super) fn stand_ins(&self) -> Vec<bool> {
        self.list.iter().map(|piece| piece.is_stand_in).collect()
    }

    pub(super) fn colours(&self) -> Vec<Option<ColourCode>> {
        self.list.iter().map(|piece| piece.colour).collect()
    }

    pub(super) fn names(&self) -> Vec<String> {
        self.list.iter().map(|piece| piece.name.clone()).collect()
    }

    /// What flashes are counted on.
    pub(super) fn counted(&self, subject: &Subject) -> Vec<Counted> {
        let piece = |(at, piece): (usize, &PieceOf)| {
            let (show, scope) = subject.whole_of(&piece.opened);
            Counted { show, scope, named: Some((piece.name.clone(), self.place(at))) }
        };
        self.list.iter().enumerate().map(piece).collect()
    }

    fn place(&self, at: usize) -> String {
        place(&self.list[at].name, at, self.list.len())
    }

    /// The frames of a piece that are compared, from a moment on, its footage freshly opened.
    fn frames(
        &self,
        at: usize,
        (start, warm_up): (Moment, Option<f64>),
        shelf: &mut Shelf,
        over: Option<(f64, Option<f64>)>,
    ) -> anyhow::Result<Frames> {
        let opened = &self.list[at].opened;
        let mut path = |moment, past| planned(opened, shelf, warm_up, moment, past);
        let frames = match over {
            Some((beats, a_second)) => Stretch::planned(start, beats, a_second, path).map(Frames::Stretch),
            None => path(start, true).map(|path| Frames::Moment(Box::new(path))),
        };
        frames.map_err(|error| anyhow::anyhow!("{}: {error}", self.place(at)))
    }

    /// Renders and measures piece by piece, and gathers.
    pub(super) fn explored(&self, subject: &mut Subject, asked: &Asked<'_>) -> anyhow::Result<FoundOnPieces> {
        let count = self.list.len();
        let names = self.names();
        let mut progress: Option<Progress> = None;
        let tell = |done: usize, of: usize| {
            let named = || Progress::named(&format!("rendering {count} pieces of footage"), "pictures", of);
            progress.get_or_insert_with(named).tell(done);
        };
        let (from, catalogue) = ((subject.path.moment, subject.warm_up), &subject.catalogue);
        let frames = |at: usize| self.frames(at, from, &mut Shelf::new(catalogue), asked.over).map(Some);
        let judged = asked.of_orders.judged(&mut subject.renderer, &names, frames, tell)?;
        let Some(Judged { explored, wish }) = judged else { bail!("no piece of footage was rendered") };
        progress.into_iter().for_each(Progress::finished);
        let parts = on_pieces(&explored).map(|pieces| pieces.parts(&explored.orders)).unwrap_or_default();
        Ok(FoundOnPieces { parts, wish, explored })
    }
}

impl PieceList {
    /// The pictures of some classes on each piece, for a wall of this grid: those by which looks were told apart, where
    /// these are large enough, and otherwise rendered once more.
    pub(super) fn pictures(
        &self,
        subject: &mut Subject,
        explored: &Exploration,
        grid: TileGrid,
        classes: &[usize],
        budget: Budget,
    ) -> anyhow::Result<Vec<Vec<Picture>>> {
        let Some(on) = on_pieces(explored) else { return Ok(Vec::new()) };
        let frame = subject.path.moment.frame;
        let is_enough = explored.looked_at == frame || explored.looked_at.width >= grid.width;
        if is_enough {
            let hung = |piece| on.hung(&mut subject.renderer, &explored.galleries, piece, classes);
            return Ok((0..self.len()).map(hung).collect::<Result<_, _>>()?);
        }
        let drawn = doing_counted("rendering the wall", "pieces", self.len());
        let size = Frame { width: grid.width.min(frame.width), height: grid.height.min(frame.height) };
        let want = Want::Tiles { size, most: usize::MAX };
        let mut pictures = Vec::with_capacity(self.len());
        for (at, piece) in on.list.iter().enumerate() {
            drawn.done(at);
            let telling = piece.over.as_ref().and_then(|over| over.most_telling());
            let moment = telling.map_or(subject.path.moment, |(moment, _)| *moment);
            let shelf = &mut Shelf::new(&subject.catalogue);
            let path = subject
                .path_of(&self.list[at].opened, shelf, moment, true)
                .map_err(|error| anyhow::anyhow!("{}: {error}", self.place(at)))?;
            let found = explored.pictures(&mut subject.renderer, &path, want, classes, budget)?;
            pictures.push(found.into_iter().flatten().collect());
        }
        Ok(pictures)
    }
}

fn on_pieces(explored: &Exploration) -> Option<&OnPieces> {
    explored.pieces.as_ref()
}

/// What `--json` gives of the pieces.
#[derive(Serialize)]
pub(super) struct PiecesFigures {
    pieces: Vec<PieceFigures>,
    /// Which pairs are proved to commute, and on which pieces.
    proved: Vec<ProvedFigures>,
    #[serde(flatten)]
    best: Option<BestFigures>,
}

/// The orders that hold best on all pieces.
#[derive(Serialize)]
struct BestFigures {
    best_by_mean: String,
    best_by_worst: String,
    /// The piece that gives up most for the order that is ranked first.
    #[serde(skip_serializing_if = "Option::is_none")]
    disagrees_most: Option<String>,
}

#[derive(Serialize)]
struct PieceFigures {
    name: String,
    footage: String,
    /// Whether it is a card in place of footage that is not there yet.
    is_stand_in: bool,
    /// The first piece that gives the same pictures in every order.
    #[serde(skip_serializing_if = "Option::is_none")]
    same_as: Option<String>,
    /// Orders that can differ on this piece, and pictures that do.
    classes: usize,
    distinct: usize,
    /// Whether nobody would see what order does on it.
    is_unseen: bool,
    /// In the order of the `facts` of all; `matters` from a share of 0.02 on, where it is seen.
    facts: Vec<PieceShareFigures>,
    /// Effects that nobody sees on it, by their marks.
    unseen_effects: Vec<u32>,
    /// Orders that flash too much on it, where that was counted.
    #[serde(skip_serializing_if = "Option::is_none")]
    orders_past_flash_limits: Option<usize>,
    #[serde(flatten)]
    wish: Option<PieceWishFigures>,
}

#[derive(Serialize)]
struct PieceShareFigures {
    under: u32,
    over: u32,
    share: f64,
    matters: bool,
}

/// What the order ranked first is on a piece, and what one of its own would gain.
#[derive(Serialize)]
struct PieceWishFigures {
    wanted: f64,
    rank: usize,
    own_best: String,
    own_wanted: f64,
    gain: f64,
    /// 0 where the order for all is best there too, 1 where it is worst.
    disagrees: f64,
}

#[derive(Serialize)]
struct ProvedFigures {
    marks: [u32; 2],
    /// `whatever` the footage, `every piece`, or the names of some.
    on: serde_json::Value,
    because: String,
}

/// An order on one piece, against the file's own order there.
#[derive(Serialize)]
pub(super) struct OrderOnPiece {
    piece: String,
    picture: String,
    #[serde(flatten)]
    difference: DifferenceFigures,
    #[serde(skip_serializing_if = "Option::is_none")]
    wanted: Option<f64>,
    #[serde(flatten)]
    flashes: Option<FlashFigures>,
}

impl PiecesFigures {
    pub(super) fn of(
        explored: &Exploration,
        list: &PieceList,
        wish: Option<&Wish>,
        flashes: &FlashesOfOrders,
    ) -> Option<Self> {
        let on = on_pieces(explored)?;
        let orders = &explored.orders;
        let facts = explored.families.as_ref().map_or(&[][..], |families| &families.facts);
        let piece = |(at, piece): (usize, &Piece)| PieceFigures {
            name: piece.name.clone(),
            footage: list.list[at].written.clone(),
            is_stand_in: list.list[at].is_stand_in,
            same_as: piece.same_as.map(|first| on.list[first].name.clone()),
            classes: piece.classes,
            distinct: piece.distinct(),
            is_unseen: on.is_unseen(at),
            facts: facts
                .iter()
                .zip(piece.shares.iter().flat_map(|shares| &shares.facts))
                .map(|(known, &share)| PieceShareFigures {
                    under: orders.marks.of(known.fact.before),
                    over: orders.marks.of(known.fact.after),
                    share: rounded(share),
                    matters: !on.is_unseen(at) && share >= LEAST_SHARE,
                })
                .collect(),
            unseen_effects: (0..piece.parts.len())
                .filter(|&effect| piece.parts[effect].unseen.is_some())
                .map(|effect| orders.marks.of(effect))
                .collect(),
            orders_past_flash_limits: flashes.on(0, at).is_some().then(|| flashes.too_many_on(at)),
            wish: wish.map(|wish| {
                let gain = wish.gain(at);
                let all = wish.order.first().copied().unwrap_or(0);
                PieceWishFigures {
                    wanted: wish.figure_on(at, all),
                    rank: gain.rank,
                    own_best: orders.code(gain.own),
                    own_wanted: wish.figure_on(at, gain.own),
                    gain: gain.gain,
                    disagrees: rounded(gain.disagrees),
                }
            }),
        };
        let effects = orders.labels.len();
        let pairs = (0..effects).flat_map(|a| (a + 1..effects).map(move |b| (a, b)));
        let proved = pairs.filter_map(|(a, b)| {
            let (proved, because) = on.proved(a, b);
            let on = match proved {
                Proved::Nowhere => return None,
                Proved::Whatever => "whatever".into(),
                Proved::EveryPiece => "every piece".into(),
                Proved::Only(pieces) => pieces.iter().map(|&piece| on.list[piece].name.clone()).collect(),
            };
            let marks = [orders.marks.of(a), orders.marks.of(b)];
            Some(ProvedFigures { marks, on, because: because.unwrap_or_default().to_owned() })
        });
        let best = wish.map(|wish| BestFigures {
            best_by_mean: orders.code(wish.best(By::Mean)),
            best_by_worst: orders.code(wish.best(By::Worst)),
            disagrees_most: wish.disagrees_most().map(|(at, _)| on.list[at].name.clone()),
        });
        Some(Self { pieces: on.list.iter().enumerate().map(piece).collect(), proved: proved.collect(), best })
    }
}

/// A class on each piece.
pub(super) fn order_on_pieces(
    explored: &Exploration,
    wish: Option<&Wish>,
    flashes: &FlashesOfOrders,
    class: usize,
) -> Option<Vec<OrderOnPiece>> {
    let on = on_pieces(explored)?;
    let one = |(at, piece): (usize, &Piece)| OrderOnPiece {
        piece: piece.name.clone(),
        picture: piece.finished[class].fingerprint.to_string(),
        difference: (&piece.difference(class)).into(),
        wanted: wish.map(|wish| wish.figure_on(at, class)),
        flashes: flashes.on(class, at).and_then(|report| FlashFigures::of(slice::from_ref(report))),
    };
    Some(on.list.iter().enumerate().map(one).collect())
}
