//! `underover render`: one picture, or a moving one.

use std::collections::VecDeque;
use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::figures::SubjectFigures;
use super::named_order::order_named;
use super::output::{
    Output, Replace, check_outputs, check_places, figures_output, image_of, is_standard_output, say, whole,
};
use super::progress::Progress;
use super::running::{LegFigures, OpenSections};
use super::subject::{Subject, SubjectOptions};
use super::{WrongWords, note};
use crate::base::doing::{doing, doing_untold};
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::beat::{Beats, FrameRate, Moment};
use crate::explore;
use crate::files::WriteError;
use crate::gpu::{GpuError, Player, Underway};
use crate::order::LookLimits;
use crate::output::moving::{
    Ended, Form, Halted, Interruption, Line, MovingError, Outline, Span, Writer, check_count,
};
use crate::show::chain::{labels, one_after_another};

/// The options of `render`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  underover render preset:night-ferry --at 0.1 --out ferry.png
  underover render preset:lamp-lines --footage photo.jpg --out lines.png
  underover render preset:wheelhouse --footage photo.jpg --order 3124 --out other.png
  underover render preset:lamp-lines --order tint,edge-find --out tinted-first.png
  underover render preset:all-hands --at 0.1 --explain --out hands.png

Moving pictures, by the name's ending:
  underover render preset:night-ferry --beats 0..16 --rate 30 --out ferry.mp4
  underover render preset:night-ferry --beats 0..16 --out frames/ferry-####.png
  underover render preset:night-ferry --frames 240 --out - | ffmpeg -i - ferry.gif
The whole set, section by section, with its fades:
  underover render night.toml --running-order --rate 30 --out night.mp4
  underover render night.toml --running-order --at 66 --out into-open-water.png

.png with # for digits: numbered pictures; the same command goes on where it was interrupted. .apng, or .png with \
--beats or --frames: an animated PNG. .y4m, or - for standard output: uncompressed. .mp4, .mov, .mkv, .webm: through \
the program ffmpeg.

What can be transparent stays so, with straight alpha, in PNG, in .mov (ProRes 4444) and in .webm (VP9); in .mp4, .mkv \
and .y4m it lies over black.")]
pub(super) struct Render {
    #[command(flatten)]
    subject: SubjectOptions,
    /// What to write: a .png, or a moving picture
    #[arg(long, value_name = "PATH")]
    out: PathBuf,
    /// A moving picture from one beat to another, such as 0..16
    #[arg(long, value_name = "FROM..TO", conflicts_with_all = ["at", "frames"], allow_hyphen_values = true)]
    beats: Option<Span>,
    /// A moving picture of so many frames, from --at on
    #[arg(long, value_name = "N", value_parser = |text: &str| whole(text, 1_u64, u64::MAX))]
    frames: Option<u64>,
    /// Frames a second, such as 60, 29.97 or 30000/1001; without it, the show's own
    #[arg(long, value_name = "R")]
    rate: Option<FrameRate>,
    #[command(flatten)]
    replace: Replace,
    /// Another order for the chain: its code (312), or marks (3,1,2) or names (edge-find,tint), each effect once
    #[arg(long, value_name = "CODE")]
    order: Option<String>,
    /// Say what each effect does where it stands: the picture with it against the picture without
    #[arg(long)]
    explain: bool,
    /// The whole set: the sections of a show in their running order, each taking over from the one before by its fade; to
    /// its end, or --beats, --frames or --at of it
    #[arg(long, conflicts_with_all = ["order", "explain"])]
    running_order: bool,
    #[command(flatten)]
    open: OpenSections,
    /// How it was written, as JSON (`-` is standard output)
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
}

/// How a picture was written.
#[derive(Serialize)]
struct Report<'a> {
    #[serde(flatten)]
    subject: SubjectFigures<'a>,
    out: String,
    /// What of the running order stands where.
    #[serde(skip_serializing_if = "<[_]>::is_empty")]
    running_order: &'a [LegFigures],
    #[serde(skip_serializing_if = "Option::is_none")]
    frames: Option<u64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    rate: Option<String>,
    /// The size on file.
    written_frame: String,
    /// How a film is compressed.
    #[serde(skip_serializing_if = "Option::is_none")]
    codec: Option<&'static str>,
    /// What became of alpha: `kept` (straight), `over-black`, or `none` where all that was rendered is opaque.
    alpha: &'static str,
    /// Frames rendered now that are transparent anywhere.
    transparent_frames: u64,
}

impl Render {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        match self.form()? {
            Some(form) => self.run_moving(form),
            None => self.run_still(),
        }
    }

    /// The form of the moving picture asked for; none where a single picture is.
    fn form(&self) -> Result<Option<Form>, WrongWords> {
        let lasts = self.beats.is_some() || self.frames.is_some();
        let is_png = || self.out.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("png"));
        let shown = self.out.display();
        let form = match Form::of(&self.out) {
            None if lasts && is_png() => Some(Form::Apng),
            form => form,
        };
        let wrong = |message: String| Err(WrongWords(message));
        match &form {
            None if lasts => wrong(format!(
                "--out {shown}: a moving picture is written as .apng, .png, .y4m, .mp4, .mov, .mkv or .webm, as numbered pictures (frame-####.png), or to standard output (-)"
            )),
            None if self.rate.is_some() => wrong(
                "--rate: a single picture has no frame rate; add --beats 0..16 or --frames 240".to_owned(),
            ),
            Some(_) if !lasts && !self.running_order => wrong(format!(
                "--out {shown}: this is a moving picture; say how long it is with --beats 0..16 or --frames 240"
            )),
            Some(_) if self.explain => wrong(
                "--explain: only a single picture is explained; leave out --beats and --frames".to_owned(),
            ),
            _ => Ok(form),
        }
    }

    /// What is rendered, and what of a running order stands where.
    fn opened(&self) -> anyhow::Result<(Subject, Vec<LegFigures>)> {
        if self.running_order {
            return self.open.open(&self.subject);
        }
        self.open.unused()?;
        Ok((self.subject.open(Frame { width: 1280, height: 720 })?, Vec::new()))
    }

    /// What of the running order is rendered where nobody says how long.
    fn whole(subject: &Subject) -> Option<Span> {
        let beats = subject.running.as_ref()?.order().beats();
        format!("0..{beats}").parse().ok()
    }

    /// What was rendered, in words.
    fn said(subject: &Subject, order: &[usize]) -> String {
        if subject.running.is_some() {
            return subject.footage.clone();
        }
        let labels = labels(&subject.path.chain);
        let effects = one_after_another(order.iter().map(|&place| labels[place].as_str()));
        format!("{effects} on {}", subject.footage)
    }

    /// The chain's order, by places.
    fn order(&self, subject: &Subject) -> Result<Vec<usize>, WrongWords> {
        match &self.order {
            Some(written) => order_named("--order", written, &subject.path.chain),
            None => Ok((0..subject.path.chain.len()).collect()),
        }
    }

    fn run_moving(&self, form: Form) -> anyhow::Result<()> {
        let first = form.first_file(&self.out);
        let output = match form {
            // Which of those that are there may go is told by their note.
            Form::Numbered(_) => Output::moving(&first, Replace { replaces: true }),
            _ => Output::moving(&first, self.replace),
        };
        let outputs: Vec<Output> =
            [output].into_iter().chain(figures_output(self.json.as_deref(), self.replace)).collect();
        check_places(&outputs)?;
        let (mut subject, legs) = self.opened()?;
        check_outputs(&outputs)?;
        let order = self.order(&subject)?;
        let start = subject.path.moment;
        let rate = self.rate.unwrap_or(start.rate);
        let too_long = |error| WrongWords(format!("--out {}: {error}", self.out.display()));
        let whole = Self::whole(&subject).filter(|_| self.frames.is_none());
        let (from, count) = match self.beats.or(whole) {
            Some(span) => (span.from(), span.count(rate, start.tempo_bpm).map_err(too_long)?),
            None => {
                (Beats::of_decimal(start.beats), check_count(self.frames.unwrap_or(1)).map_err(too_long)?)
            }
        };
        let outline = Outline {
            frame: start.frame,
            rate,
            count,
            may_be_transparent: subject.may_be_transparent()?,
            subject: format!("{} {from:?} {order:?} {rate}", subject.identity()),
        };
        subject.closing_notes();
        let moment = |number| {
            let beats = from.plus(&Beats::of_frame(number, rate, start.tempo_bpm));
            Moment::at_beats(start.frame, start.pixels, start.tempo_bpm, rate, &beats)
        };
        let remedy = match form {
            Form::Numbered(_) => "the same command goes on from there",
            _ => "nothing was kept",
        };
        let loses_alpha = outline.may_be_transparent && !form.keeps_alpha();
        if loses_alpha {
            note(&format!(
                "note: {} holds no alpha: what is transparent lies over black there; .mov, .webm and .apng keep it",
                self.out.display()
            ));
        }
        let interruption = Interruption::awaited();
        let interrupted = |done, error: MovingError| {
            // Whoever reads what is written may have been asked to stop too.
            if interruption.came() { MovingError::Interrupted { done, count, remedy } } else { error }
        };
        let writer = match Writer::begin(form, &self.out, &outline, self.replace.replaces) {
            Err(MovingError::File(WriteError::NotReplaced { path, why })) => {
                return Err(WrongWords(format!("--out {path}: {why}")).into());
            }
            begun => begun?,
        };
        let written = writer.written(&outline);
        if written.frame != outline.frame {
            let [wider, higher] =
                [written.frame.width > outline.frame.width, written.frame.height > outline.frame.height];
            let repeated = match (wider, higher) {
                (true, true) => "its last column and its last row are",
                (true, false) => "its last column is",
                _ => "its last row is",
            };
            note(&format!(
                "note: {} in 4:2:0 has even sides: {} is written as {}, {repeated} repeated",
                written.codec.unwrap_or_default(),
                outline.frame,
                written.frame
            ));
        }
        let mut progress = Progress::of(usize::try_from(count)?);
        let wanted: Vec<u64> = (0..count).filter(|&number| !writer.has(number)).collect();
        let kept = count - wanted.len() as u64;
        let line = Line::to(writer)?;
        let mut player = Player::default();
        // Frames are read back and handed on while the next ones are rendered.
        let mut stretch = None;
        let mut underway: VecDeque<(u64, Underway)> = VecDeque::new();
        let mut next = wanted.iter().copied().peekable();
        let mut told = 0;
        loop {
            let number = next.next_if(|_| !interruption.came());
            let begun = match number {
                None => None,
                Some(number) => {
                    (told..number).for_each(|_| progress.skip());
                    if told < number {
                        player = Player::default();
                    }
                    told = number + 1;
                    let now = subject.running.as_ref().map(|running| running.stretch(moment(number).beats));
                    if now != stretch {
                        (player, stretch) = (Player::default(), now);
                    }
                    let path = subject.path_at(moment(number), !player.has_begun())?;
                    // Each section may have a chain of its own.
                    let own: Vec<usize> = (0..path.chain.len()).collect();
                    let order = if now.is_some() { &own } else { &order };
                    Some((number, subject.renderer.begin_several(&mut player, &[path], order)?))
                }
            };
            let goes_on = begun.is_some();
            underway.extend(begun);
            if (underway.len() > Underway::AHEAD || !goes_on)
                && let Some((number, before)) = underway.pop_front()
            {
                let waiting = doing_untold("waiting for the GPU");
                let mut pictures = subject.renderer.finish(before)?;
                waiting.now("waiting for frames to be written");
                let picture = pictures.pop().ok_or(GpuError::Defect("no picture came of the frame"))?;
                if !line.put(number, picture) {
                    break;
                }
                progress.tell(usize::try_from(number + 1)?);
            }
            if !goes_on && underway.is_empty() {
                break;
            }
        }
        let writing = doing_untold("writing the last frames");
        let Ended { writer, transparent } =
            line.ended().map_err(|Halted { number, error }| interrupted(number, error))?;
        if let Some(&done) = next.peek() {
            return Err(MovingError::Interrupted { done, count, remedy }.into());
        }
        (told..count).for_each(|_| progress.skip());
        writer.finish().map_err(|error| interrupted(count, error))?;
        drop(writing);
        progress.finished();
        let before = if kept > 0 { format!(", {kept} of them from before") } else { String::new() };
        let codec = match (written.codec, written.keeps_alpha) {
            (Some(codec), true) => format!(", {codec} with alpha"),
            (Some(codec), false) => format!(", {codec}"),
            (None, _) => String::new(),
        };
        let line = format!(
            "wrote {} ({count} frames{before}, {rate} a second, {}{codec}): {}",
            self.out.display(),
            written.frame,
            Self::said(&subject, &order)
        );
        if transparent > 0 && !written.keeps_alpha {
            note(&format!(
                "note: {transparent} of {count} frames are transparent somewhere, and lie over black"
            ));
        }
        // On standard output the film itself stands, or the figures.
        if is_standard_output(&self.out) || self.json.as_deref().is_some_and(is_standard_output) {
            note(&line);
        } else {
            say(&(line + "\n"))?;
        }
        self.write_report(&subject, &legs, |report| {
            report.frames = Some(count);
            report.rate = Some(rate.to_string());
            report.written_frame = written.frame.to_string();
            report.codec = written.codec;
            report.transparent_frames = transparent;
            report.alpha = match (transparent, written.keeps_alpha) {
                (0, _) => "none",
                (_, true) => "kept",
                (_, false) => "over-black",
            };
        })
    }

    fn write_report(
        &self,
        subject: &Subject,
        legs: &[LegFigures],
        fill: impl FnOnce(&mut Report),
    ) -> anyhow::Result<()> {
        let Some(json) = &self.json else { return Ok(()) };
        let mut report = Report {
            subject: SubjectFigures::from(subject),
            out: self.out.display().to_string(),
            running_order: legs,
            frames: None,
            rate: None,
            written_frame: subject.path.moment.frame.to_string(),
            codec: None,
            alpha: "none",
            transparent_frames: 0,
        };
        fill(&mut report);
        Output::figures(json, self.replace).write_json(&report)
    }

    fn run_still(&self) -> anyhow::Result<()> {
        let output = Output::made("--out", &self.out, "png", self.replace);
        let outputs: Vec<Output> =
            [output].into_iter().chain(figures_output(self.json.as_deref(), self.replace)).collect();
        check_places(&outputs)?;
        let (mut subject, legs) = self.opened()?;
        check_outputs(&outputs)?;
        let order = self.order(&subject)?;
        let rendering = doing(format!("rendering {}", subject.path.moment.frame));
        let picture = subject.renderer.picture(&subject.path, &order)?;
        drop(rendering);
        outputs[0].write_picture(&image_of(&picture)?)?;
        let is_transparent = is_transparent(&picture);
        self.write_report(&subject, &legs, |report| {
            report.alpha = if is_transparent { "kept" } else { "none" };
            report.transparent_frames = u64::from(is_transparent);
        })?;
        let mut text =
            format!("wrote {} ({}): {}\n", self.out.display(), picture.frame, Self::said(&subject, &order));
        if self.explain {
            // Explained as it was rendered.
            subject.path = subject.path.reordered(&order);
            text += &explained(&mut subject)?;
        }
        // On standard output the figures stand alone.
        if self.json.as_deref().is_some_and(is_standard_output) {
            note(text.trim_end());
        } else {
            say(&text)?;
        }
        subject.closing_notes();
        Ok(())
    }
}

/// Whether a picture is transparent anywhere.
fn is_transparent(picture: &Picture) -> bool {
    picture.rgba.as_chunks::<4>().0.iter().any(|texel| texel[3] < u8::MAX)
}

/// What each effect does where it stands, first applied first.
fn explained(subject: &mut Subject) -> anyhow::Result<String> {
    let parts = explore::parts(&mut subject.renderer, &subject.path, LookLimits::default())?;
    let mut text = "Each effect where it stands, against the picture without it:\n".to_owned();
    for (label, part) in labels(&subject.path.chain).iter().zip(&parts) {
        text += &match &part.unseen {
            Some(unseen) => format!("  {unseen}\n"),
            None => format!("  {label}: {}\n", part.difference),
        };
    }
    Ok(text)
}
