//! `underover find`: of all orders and settings that may be tried, those nearest to a wish.

mod answers;
mod parts;
mod share;
mod stream;
mod vary;

use std::path::{Path, PathBuf};
use std::time::Duration;

use clap::Args;

use super::documents::read_here;
use super::figures::LookOptions;
use super::opened::Opened;
use super::output::{Output, Replace, check_outputs, check_places, is_standard_output, say, whole};
use super::subject::{Subject, SubjectOptions};
use super::{WrongWords, note};
use crate::base::clock::Since;
use crate::base::doing::doing;
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::beat::Moment;
use crate::explore::Goal;
use crate::explore::find::sizes::{TRIES, sizes};
use crate::explore::find::{Quest, Seat};
use crate::gpu::{Budget, RenderError};
use crate::output::moving::Interruption;
use crate::plan::Path as PicturePath;
use crate::show::Scope;
use answers::Answers;
use parts::{Asked, Part};
use share::{MOST_TRIES, PartOf, Patience, Share, Streamed};
use stream::adapters_named;
use vary::{Varying, varying};

/// Answers where nothing is said, and the most.
const USUAL_ANSWERS: usize = 6;
const MOST_ANSWERS: usize = 24;

/// The options of `find`.
#[derive(Debug, Args)]
#[command(after_help = "\
What --vary takes, several times or with commas: `order`; `on` (each effect on or off) or NAME.on for one; NAME.SETTING, or \
NAME.SETTING=LOW..HIGH for less than all that it allows; `main` (the first number of each effect, which is mostly how much \
of it there is); `all` (order, on and every setting that stands still); `scope` (where in the show the chain sits, over what \
is there). Without --vary: order and main. With it, what is named alone.

A stream of candidates is rendered small; around the best of each kind finer steps are tried, at last at the frame itself, \
where the figures are measured. The same words and --seed give the same answers (with --tries, not with --for). Ctrl-C ends it \
early: what was found until then is told and written, and the exit code is 1.

Examples:
  underover find preset:all-hands --want most-changed --frame 96x54 --tries 200 --out found.png
  underover find show.toml --like sea.png --vary order,mirror.fold --keep 1 --as found.toml

A whole search, and the same on many machines, a share each, then together:
  underover find preset:all-hands --footage photo.jpg --like wish.png --vary all --for 2min
  underover find show.toml --like wish.png --tries 1000000 --part 3/64 --json part-3.json
  underover find show.toml --like wish.png --gather part-*.json --out found.png")]
pub(super) struct Find {
    #[command(flatten)]
    subject: SubjectOptions,
    /// The picture to come near; of another shape, it fills the frame and is cut off evenly
    #[arg(long, value_name = "F")]
    like: Option<PathBuf>,
    /// The goal, where it is not a picture to come near
    #[arg(long, value_name = "GOAL")]
    want: Option<Goal>,
    /// What is tried: order, on, main, all, scope, NAME.SETTING or NAME.SETTING=LOW..HIGH (below)
    #[arg(long, value_name = "WHAT", value_delimiter = ',', allow_hyphen_values = true)]
    vary: Vec<String>,
    /// Candidates of the stream (8000 unless said); the best of them are followed by some thousand more
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=MOST_TRIES))]
    tries: Option<u64>,
    /// Search for so long instead: 30s, 5min, 2h
    #[arg(long = "for", id = "lasts", value_name = "TIME", value_parser = lasts, conflicts_with = "tries")]
    lasts: Option<Duration>,
    /// Which of the random streams
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Size at which the stream is rendered; without it, the frame's shape within 96x54
    #[arg(long, value_name = "WxH")]
    tried_at: Option<Frame>,
    /// The most answers, each of a look of its own
    #[arg(long, value_name = "N", default_value_t = USUAL_ANSWERS, value_parser = |text: &str| whole(text, 1, MOST_ANSWERS))]
    most: usize,
    /// The wall to write: a PNG with a picture for each answer
    #[arg(long, value_name = "WALL.png")]
    out: Option<PathBuf>,
    /// The figures to write (`-` is standard output); with --part, the part
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    /// Keep this answer as a chain file (with --as), 1 being the best
    #[arg(long, value_name = "N", requires = "keep_as", value_parser = |text: &str| whole(text, 1, MOST_ANSWERS))]
    keep: Option<usize>,
    /// The chain file to write for --keep
    #[arg(long = "as", id = "keep_as", value_name = "F.toml", requires = "keep")]
    keep_as: Option<PathBuf>,
    /// Try one share of the stream and write it (--json): K/N for share K of N
    #[arg(long, value_name = "K/N", requires = "json", conflicts_with_all = ["out", "keep", "gather"])]
    part: Option<PartOf>,
    /// Join parts that were written with the same words, and go on from there
    #[arg(long, value_name = "PART", num_args = 1.., value_parser = read_here, conflicts_with_all = ["adapters"])]
    gather: Vec<String>,
    /// Share the stream out among several GPUs: all of the best kind, or parts of their names
    #[arg(long, value_name = "all|NAME-PART", value_delimiter = ',')]
    adapters: Vec<String>,
    #[command(flatten)]
    looks: LookOptions,
    #[command(flatten)]
    replace: Replace,
}

fn lasts(text: &str) -> Result<Duration, String> {
    let digits = text.trim_end_matches(|c: char| c.is_ascii_alphabetic());
    let unit = match &text[digits.len()..] {
        "s" | "" => 1.0,
        "min" | "m" => 60.0,
        "h" => 3600.0,
        _ => f64::NAN,
    };
    match digits.trim().parse::<f64>().map(|number| number * unit) {
        Ok(secs) if (1.0..=7.0 * 86_400.0).contains(&secs) => Ok(Duration::from_secs_f64(secs)),
        _ => Err("a time from 1s to a week is wanted, such as 30s, 5min or 2h".to_owned()),
    }
}

impl Find {
    fn tries(&self) -> u64 {
        self.tries.unwrap_or(TRIES)
    }

    /// How long the stream is, where words say so: so many tries, or nothing, as its time ends it.
    fn asks_for(&self) -> Option<Option<u64>> {
        (self.tries.is_some() || self.lasts.is_some()).then_some(self.tries)
    }

    pub(super) fn run(&self) -> anyhow::Result<()> {
        let outputs = self.outputs();
        check_places(&outputs)?;
        let goal = self.goal()?;
        let gpus = adapters_named(&self.adapters)?;
        let mut subject = self.subject.open(Frame { width: 640, height: 360 })?;
        let varying = varying(&self.vary, &subject)?;
        let like = self.like.as_deref().map(|like| wished(&mut subject, like)).transpose()?;
        check_outputs(&outputs)?;
        let interruption = Interruption::awaited();
        let patience = Patience { interruption: &interruption, began: Since::now(), lasts: self.lasts };
        let budget = Budget { mib: self.subject.memory.unwrap_or(Budget::default().mib) };
        let planning = doing("rendering what lies under the chain");
        let quest = self.quest(&mut subject, &varying, goal, like.as_ref())?;
        drop(planning);
        let asked = Asked::of(&subject, &varying, &quest);
        let (streamed, missing) = if self.gather.is_empty() {
            let of = self.part.unwrap_or_default();
            let tries = match (quest.space.counted(), self.lasts) {
                (Some(all), Some(_)) => all,
                (Some(all), None) => all.min(self.tries()),
                (None, Some(_)) => MOST_TRIES,
                (None, None) => self.tries(),
            };
            let share = Share { of, tries };
            (stream::streamed(&quest, share, &mut subject.renderer, gpus, budget, &patience)?, Vec::new())
        } else {
            parts::gathered(&self.gather, &asked, self.asks_for(), &quest)?
        };
        if let (Some(of), Some(json)) = (self.part, &self.json) {
            let tries = self.lasts.is_none().then(|| self.tries());
            let part = Part::of(asked, of, tries, &streamed);
            Output::figures(json, self.replace).write_json(&part)?;
            if !is_standard_output(json) {
                note(&format!("wrote {} ({} tries, part {of})", json.display(), streamed.tries));
            }
            return self.ended(&interruption, &streamed);
        }
        let mut climbed_tries = 0;
        let found = {
            let climbing = doing("trying finer steps around the best");
            let mut goes_on = |tried: usize| {
                climbed_tries += tried as u64;
                patience.lasts(1.0)
            };
            let renderer = &mut subject.renderer;
            let candidates = quest.climbed(renderer, &streamed.kept, budget, &mut goes_on)?;
            climbing.now("measuring the answers at the frame itself");
            quest.found(renderer, &candidates, self.most, self.looks.limits(), budget)?
        };
        let answers = Answers {
            subject: &subject,
            quest: &quest,
            varying: &varying,
            like: self.like.as_deref().zip(like.as_ref()),
            found: &found,
            of_stream: streamed.tries,
            tries: streamed.tries + climbed_tries,
            parts_missing: &missing,
            is_all: quest.space.counted().is_some_and(|all| streamed.tries >= all),
        };
        self.told(&answers)?;
        subject.closing_notes();
        self.ended(&interruption, &streamed)
    }

    /// Where the person asked to stop, what was found is written by now; whoever waits for the whole is told.
    fn ended(&self, interruption: &Interruption, streamed: &Streamed) -> anyhow::Result<()> {
        if !interruption.came() {
            return Ok(());
        }
        let of = streamed.wanted.map_or_else(String::new, |wanted| format!(" of {wanted}"));
        Err(anyhow::anyhow!(
            "interrupted after {}{of} tries; what was found until then is kept",
            streamed.tries
        ))
    }

    fn outputs(&self) -> Vec<Output<'_>> {
        let out = self.out.iter().map(|path| Output::made("--out", path, "png", self.replace));
        let json = self.json.iter().map(|path| Output::figures(path, self.replace));
        let keep_as = self.keep_as.iter().map(|path| Output::document("--as", path, self.replace));
        out.chain(json).chain(keep_as).collect()
    }

    fn goal(&self) -> Result<Goal, WrongWords> {
        let wrong = |words: &str| Err(WrongWords(words.to_owned()));
        match (self.want, &self.like) {
            (None | Some(Goal::Like), Some(_)) => Ok(Goal::Like),
            (Some(goal), None) if goal != Goal::Like => Ok(goal),
            (Some(_), Some(_)) => {
                wrong("--like looks for a picture and --want for another goal; give one of them")
            }
            (Some(_), None) => wrong("--want like: the picture to come near is missing; add --like F"),
            (None, None) => wrong(
                "nothing says what to look for: add --like with a picture to come near, or --want with a goal such as brightest",
            ),
        }
    }

    fn quest(
        &self,
        subject: &mut Subject,
        varying: &Varying,
        goal: Goal,
        like: Option<&Picture>,
    ) -> anyhow::Result<Quest> {
        let moment = subject.path.moment;
        let frame = moment.frame;
        if let Some(small) =
            self.tried_at.filter(|small| small.width > frame.width || small.height > frame.height)
        {
            return Err(WrongWords(format!(
                "--tried-at {small}: the frame is {frame}, and candidates are tried at most as large as it"
            ))
            .into());
        }
        let frames = sizes(frame, self.tried_at);
        let seats = seats_of(subject, varying);
        let (renderer, shelf) = (&mut subject.renderer, &mut subject.shelf);
        let (opened, warm_up) = (&subject.opened, subject.warm_up);
        let plan = |scope: usize, frame: Frame| -> Result<PicturePath, RenderError> {
            let moment = Moment { frame, ..moment };
            let looking_back = |path: PicturePath| match warm_up {
                Some(beats) => path.looking_back(beats),
                None => path,
            };
            match opened {
                Opened::Chain { footage, fit, .. } => {
                    let path = PicturePath::of_chain(&varying.planned, footage, *fit, moment, shelf)?;
                    Ok(looking_back(path).reordered(&[]))
                }
                Opened::Show { .. } => {
                    let path = seats[scope].path(moment, shelf)?;
                    Ok(seats[scope].under(&looking_back(path)))
                }
            }
        };
        let of = (varying.space.clone(), goal, self.seed);
        Ok(Quest::planned(renderer, of, like, &frames, plan)?)
    }

    fn told(&self, answers: &Answers<'_>) -> anyhow::Result<()> {
        if !self.json.as_deref().is_some_and(is_standard_output) {
            say(&answers.text())?;
            if self.keep.is_none() && !answers.found.is_empty() {
                say("Save one as a chain file: the same words, with --keep 1 --as NAME.toml.\n")?;
            }
        }
        if let Some(out) = &self.out {
            let drawing = doing("drawing the wall");
            let wall = answers.wall()?.drawn()?;
            drop(drawing);
            Output::made("--out", out, "png", self.replace).write_picture(&wall)?;
            note(&format!("wrote {} ({} answers)", out.display(), answers.found.len()));
        }
        if let Some(json) = &self.json {
            Output::figures(json, self.replace).write_json(&answers.figures())?;
            if !is_standard_output(json) {
                note(&format!("wrote {} ({} answers)", json.display(), answers.found.len()));
            }
        }
        if let (Some(nth), Some(path)) = (self.keep, &self.keep_as) {
            answers.keep(nth, &Output::document("--as", path, self.replace))?;
        }
        Ok(())
    }
}

/// The picture to come near, as it lies in the frame; what becomes of one of another shape is said.
fn wished(subject: &mut Subject, like: &Path) -> anyhow::Result<Picture> {
    let picture = subject.shown(like)?;
    let frame = picture.frame;
    if let Ok((width, height)) = image::image_dimensions(like)
        && u64::from(width) * u64::from(frame.height) != u64::from(height) * u64::from(frame.width)
    {
        let is_wider =
            u64::from(width) * u64::from(frame.height) > u64::from(height) * u64::from(frame.width);
        let sides = if is_wider { "to the left and right" } else { "above and below" };
        note(&format!(
            "note: {} is {width}x{height}, and the frame {frame}: it fills the frame, and what stands out {sides} is cut off",
            like.display()
        ));
    }
    Ok(picture)
}

/// The show with the chain on each scope that it is tried on.
fn seats_of(subject: &Subject, varying: &Varying) -> Vec<Seat> {
    let Opened::Show { show, scope: home } = &subject.opened else { return Vec::new() };
    let seat = |&(scope, _): &(Scope, String)| Seat::new(show, *home, scope, &varying.planned);
    varying.scopes.iter().map(seat).collect()
}
