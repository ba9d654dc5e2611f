//! Pictures that the program itself made, with an order and settings that the search for them is not told.

use std::fmt;
use std::time::Instant;

use serde::Serialize;

use super::Row;
use crate::base::doing::doing;
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::beat::Moment;
use crate::commands::subject::{Subject, SubjectOptions};
use crate::explore::find::sizes::{TRIES, sizes};
use crate::explore::find::{Candidate, Kept, Quest, Range, Space, Varied};
use crate::explore::{Goal, proved};
use crate::gpu::{Against, Budget, GpuError, RenderError, Renderer};
use crate::order::{Classes, LookLimits};
use crate::plan::Path;
use crate::show::chain::Chain;
use crate::show::clip::{Fit, FootageName};

/// What is hidden beside the order: settings of `preset:all-hands`, by their effects' places.
const HIDDEN: [(usize, &str); 6] =
    [(0, "amount"), (1, "strength"), (2, "gain"), (2, "amount"), (3, "distance"), (4, "fold")];

/// Pictures that are hidden, each searched with a seed of its own.
const PICTURES: u64 = 10;
const FRAME: Frame = Frame { width: 96, height: 54 };

/// Hidden pictures are from streams behind all that are searched.
const HIDDEN_FROM: u64 = 1 << 32;
/// Every other order that can differ is at least so far from a hidden picture at its settings, in mean CIEDE2000, so that
/// the picture tells its order; and there are so many of them.
const TELLS: f64 = 1.0;
const LEAST_ORDERS: usize = 24;

/// What came of the searches.
#[derive(Debug, Serialize)]
pub(super) struct Planted {
    pictures: u64,
    /// Searches whose best answer has the hidden order, or one proved to give the same.
    orders_found: u64,
    /// How far the worst of the best answers is from its picture.
    most_mean_de2000: f64,
    /// Of all searches together.
    tries: u64,
    #[serde(skip_serializing_if = "Option::is_none")]
    processor_s: Option<f64>,
}

impl fmt::Display for Planted {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { pictures, orders_found, most_mean_de2000, tries, processor_s } = self;
        write!(
            f,
            "{orders_found} of {pictures} orders found, mean at most {most_mean_de2000:.3}, {tries} tries"
        )?;
        processor_s.map_or(Ok(()), |secs| write!(f, ", processor {secs:.1} s"))
    }
}

pub(super) fn row(adapter: Option<String>, budget: Budget) -> anyhow::Result<Row> {
    let options = SubjectOptions::built_in("all-hands").anew().on(adapter).at(0.1, FRAME);
    let mut planted = Planted {
        pictures: PICTURES,
        orders_found: 0,
        most_mean_de2000: 0.0,
        tries: 0,
        processor_s: processor_secs().map(|_| 0.0),
    };
    let mut walls = Vec::new();
    for seed in 1..=PICTURES {
        let _searching = doing(format!("searching for picture {seed} of {PICTURES}"));
        // As a command would, each search begins with nothing compiled.
        let mut subject = options.open(FRAME)?;
        let space = space(&subject);
        let hidden = hidden(&mut subject, &space, seed)?;
        let (began, worked) = (Instant::now(), processor_secs());
        let quest = quest(&mut subject, space, seed, &hidden)?;
        let renderer = &mut subject.renderer;
        let mut kept = Kept::default();
        let mut judge = quest.judge(renderer, budget)?;
        let at_once = judge.at_once();
        for first in (0..TRIES).step_by(at_once) {
            judge.try_out(first..TRIES.min(first + at_once as u64), &mut kept)?;
        }
        planted.tries += TRIES;
        let candidates = quest.climbed(renderer, &kept, budget, &mut |tried| {
            planted.tries += tried as u64;
            true
        })?;
        let found = quest.found(renderer, &candidates, 6, LookLimits::default(), budget)?;
        walls.push(began.elapsed().as_secs_f64() * 1e3);
        if let (Some(all), Some(now), Some(then)) = (&mut planted.processor_s, processor_secs(), worked) {
            *all += now - then;
        }
        let Some(best) = found.first() else { continue };
        let normal = |order: &[usize]| hidden.classes.normal_form(order);
        planted.orders_found += u64::from(normal(&best.order) == normal(&hidden.candidate.order));
        planted.most_mean_de2000 = planted.most_mean_de2000.max(best.figure);
    }
    let what = format!("find, {TRIES} tries and finer ones, 5 effects, 6 settings");
    Ok(Row { planted: Some(planted), ..Row::of(what, FRAME, [0, 0], walls) })
}

fn space(subject: &Subject) -> Space {
    let mut space = Space::of(&subject.path.chain);
    space.order = true;
    for (place, name) in HIDDEN {
        let settings = &space.chain()[place].effect.settings;
        let Some(setting) = settings.iter().position(|setting| setting.name == name) else { continue };
        let range = Range::whole(&settings[setting].kind);
        space.settings.push(Varied { place, setting, range });
    }
    space
}

/// A picture, and what made it.
struct Hidden {
    candidate: Candidate,
    picture: Picture,
    /// The order's classes at its settings.
    classes: Classes,
}

/// The first candidate of a stream of its own whose picture tells its order.
fn hidden(subject: &mut Subject, space: &Space, seed: u64) -> Result<Hidden, GpuError> {
    let (renderer, path): (&mut Renderer, &Path) = (&mut subject.renderer, &subject.path);
    let mut number = 0;
    loop {
        number += 1;
        let candidate = space.candidate(HIDDEN_FROM + seed, number, &path.moment);
        let settled = Path { chain: space.settled(&candidate), ..path.clone() };
        let classes = proved(Some(renderer), &[&settled])?.classes;
        let picture = renderer.picture(&settled, &candidate.order)?;
        let own = classes.normal_form(&candidate.order);
        let others = classes.all().into_iter().filter(|class| class.order != own);
        let chains: Vec<Chain> = others
            .map(|class| class.order.iter().map(|&place| settled.chain[place].clone()).collect())
            .collect();
        let ground = renderer.ground(&settled.reordered(&[]), Some(Against::Picture(&picture)))?;
        let apart = renderer.candidates_apart(&ground, &chains)?;
        if chains.len() >= LEAST_ORDERS && apart.iter().all(|&apart| apart >= TELLS) {
            return Ok(Hidden { candidate, picture, classes });
        }
    }
}

fn quest(subject: &mut Subject, space: Space, seed: u64, hidden: &Hidden) -> anyhow::Result<Quest> {
    let Subject { renderer, path, shelf, .. } = subject;
    let plan = |_: usize, frame: Frame| -> Result<Path, RenderError> {
        let moment = Moment { frame, ..path.moment };
        let footage = FootageName::Generated("harbour".to_owned());
        Ok(Path::of_chain(&path.chain, &footage, Fit::Whole, moment, shelf)?.reordered(&[]))
    };
    let of = (space, Goal::Like, seed);
    Ok(Quest::planned(renderer, of, Some(&hidden.picture), &sizes(FRAME, None), plan)?)
}

/// Seconds of processor time that this process has taken.
fn processor_secs() -> Option<f64> {
    #[cfg(unix)]
    {
        let taken = rustix::time::clock_gettime(rustix::time::ClockId::ProcessCPUTime);
        Some(taken.tv_sec as f64 + taken.tv_nsec as f64 / 1e9)
    }
    #[cfg(not(unix))]
    None
}
