//! What every order of a chain flashes, on every piece of footage.

use serde::Serialize;

use super::progress::Progress;
use super::subject::Subject;
use crate::edit::Edit;
use crate::explore::Exploration;
use crate::footage::Shelf;
use crate::measure::{FlashReport, Limit};
use crate::readiness::flashing;
use crate::readiness::flashing::Watch;
use crate::show::{Scope, Show};

/// What is counted on: a show with the chain on a scope, and of several pieces the name and the place of this one.
pub(super) struct Counted {
    pub(super) show: Show,
    pub(super) scope: Scope,
    pub(super) named: Option<(String, String)>,
}

impl Counted {
    /// The one thing that a command works on.
    pub(super) fn alone(subject: &Subject) -> Self {
        let (show, scope) = subject.whole();
        Self { show, scope, named: None }
    }
}

/// What orders flash, where it was counted.
#[derive(Default)]
pub(super) struct FlashesOfOrders {
    /// For each class, one on each piece of footage.
    of: Vec<Vec<FlashReport>>,
    /// The pieces by their names; none where these are not several.
    pieces: Vec<String>,
}

impl FlashesOfOrders {
    /// Counts what every class flashes on every piece; equal pictures at one moment may still flash apart.
    pub(super) fn counted(
        subject: &mut Subject,
        explored: &Exploration,
        grounds: &[Counted],
        over_beats: Option<f64>,
    ) -> anyhow::Result<Self> {
        let classes = &explored.orders.classes;
        let mut of: Vec<Vec<FlashReport>> = vec![Vec::with_capacity(grounds.len()); classes.len()];
        let mut progress: Option<Progress> = None;
        for (piece, Counted { show, scope, named }) in grounds.iter().enumerate() {
            let mut watch = Watch { from_beats: subject.path.moment.beats, ..Watch::of(show) };
            watch.over_beats = over_beats.unwrap_or(watch.over_beats);
            let frames = watch.frames(show.tempo_bpm);
            let all = grounds.len() * classes.len() * frames;
            let progress = progress.get_or_insert_with(|| Progress::named("counting flashes", "frames", all));
            // Footage of each piece is opened afresh, and not held behind it.
            let mut shelf = Shelf::new(&subject.catalogue);
            for (at, (class, of)) in classes.iter().zip(&mut of).enumerate() {
                let (changed, _) = Edit::Order { scope: *scope, order: class.order.clone() }.applied(show)?;
                let before = (piece * classes.len() + at) * frames;
                let tell = |now: flashing::SoFar| {
                    progress.tell(before + now.frames);
                    true
                };
                let counted = flashing::counted(&mut subject.renderer, &mut shelf, &changed, &watch, tell);
                of.push(counted.map_err(|error| match named {
                    Some((_, place)) => anyhow::anyhow!("{place}: {error}"),
                    None => error.into(),
                })?);
            }
        }
        progress.into_iter().for_each(Progress::finished);
        let name = |ground: &Counted| ground.named.as_ref().map(|(name, _)| name.clone());
        Ok(Self { of, pieces: grounds.iter().filter_map(name).collect() })
    }

    /// A class on a piece.
    pub(super) fn on(&self, class: usize, piece: usize) -> Option<&FlashReport> {
        self.of.get(class)?.get(piece)
    }

    /// A class on every piece.
    pub(super) fn of(&self, class: usize) -> &[FlashReport] {
        self.of.get(class).map_or(&[], Vec::as_slice)
    }

    /// The piece on which a class flashes most, the first of several.
    fn worst(&self, class: usize) -> Option<(usize, &FlashReport)> {
        let pieces = self.of.get(class)?.iter().enumerate();
        pieces
            .reduce(|worst, next| if next.1.worst().changes > worst.1.worst().changes { next } else { worst })
    }

    /// Its name, where there are several.
    pub(super) fn worst_on(&self, class: usize) -> Option<&str> {
        self.pieces.get(self.worst(class)?.0).map(String::as_str)
    }

    /// How many classes pass a limit on a piece.
    pub(super) fn too_many_on(&self, piece: usize) -> usize {
        (0..self.of.len())
            .filter(|&class| self.on(class, piece).is_some_and(|report| !report.passes()))
            .count()
    }

    /// "1 flash a second", "4.5 red flashes a second: too many"; of several pieces, "at most 4.5 flashes a second, on
    /// quay.png: too many on 2 of 3 pieces".
    pub(super) fn said(&self, class: usize) -> Option<String> {
        let (worst, report) = self.worst(class)?;
        let count = counted_said(report);
        let Some(name) = self.pieces.get(worst) else {
            return Some(format!("{count} a second{}", if report.passes() { "" } else { ": too many" }));
        };
        let too_many = self.of(class).iter().filter(|report| !report.passes()).count();
        let verdict = match (too_many, self.pieces.len()) {
            (0, _) => String::new(),
            (1, _) => ": too many".to_owned(),
            (some, all) if some == all => format!(": too many on all {all} pieces"),
            (some, all) => format!(": too many on {some} of {all} pieces"),
        };
        Some(format!("at most {count} a second, on {name}{verdict}"))
    }

    /// The same of one piece, as it stands under a picture: "1 flash", "4.5 red flashes: too many".
    pub(super) fn said_on(&self, class: usize, piece: usize) -> Option<String> {
        let report = self.on(class, piece)?;
        Some(format!("{}{}", counted_said(report), if report.passes() { "" } else { ": too many" }))
    }

    /// On which of several pieces orders flash too much.
    pub(super) fn of_pieces_said(&self) -> Option<String> {
        if self.pieces.is_empty() {
            return None;
        }
        let orders = self.of.len();
        let counted = |piece: usize| match self.too_many_on(piece) {
            0 => None,
            all if all == orders => Some(format!("on {} in every order", self.pieces[piece])),
            some => Some(format!("on {} in {some} of {orders} orders", self.pieces[piece])),
        };
        let too_many: Vec<String> = (0..self.pieces.len()).filter_map(counted).collect();
        let others = match self.pieces.len() - too_many.len() {
            _ if too_many.is_empty() => {
                return Some("Flashes: every order keeps to the limits on every piece.".to_owned());
            }
            0 => String::new(),
            1 => "; on the other piece every order keeps to the limits".to_owned(),
            others => format!("; on the other {others} pieces every order keeps to the limits"),
        };
        Some(format!("Too many flashes: {}{others}.", too_many.join(", ")))
    }
}

/// "1 flash", "4.5 red flashes", in the worst second.
fn counted_said(report: &FlashReport) -> String {
    let worst = report.worst();
    let is_red = matches!(worst.limit, Limit::Red | Limit::ScreenRed);
    if is_red { worst.counted() } else { worst.counted_as_flashes() }
}

/// What an order's output flashes (`underover flashes` says more): of several pieces, on all of them and at most.
#[derive(Serialize)]
pub(super) struct FlashFigures {
    flashes_pass: bool,
    general_flashes_in_worst_second: f64,
    red_flashes_in_worst_second: f64,
}

impl FlashFigures {
    pub(super) fn of(reports: &[FlashReport]) -> Option<Self> {
        let most = |limit: usize| {
            reports.iter().map(|report| report.findings[limit].flashes()).max_by(f64::total_cmp)
        };
        Some(Self {
            flashes_pass: reports.iter().all(FlashReport::passes),
            general_flashes_in_worst_second: most(0)?,
            red_flashes_in_worst_second: most(1)?,
        })
    }
}
