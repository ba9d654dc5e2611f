//! `underover report`: one page on a chain or a show, to read or to print.

use std::path::PathBuf;
use std::slice;

use clap::Args;

use super::flashes::{FLASHES_CHAIN_FRAME, Telling};
use super::note;
use super::opened::Opened;
use super::output::{Output, Replace, check_outputs, check_places, whole};
use super::progress::Progress;
use super::subject::{Subject, SubjectOptions};
use crate::base::doing::doing;
use crate::base::frame::Frame;
use crate::output::report;
use crate::output::report::{About, Chapter};
use crate::plan::Path as PicturePath;
use crate::readiness::flashing::Watch;
use crate::show::{Scope, Show};

/// The options of `report`.
#[derive(Debug, Args)]
#[command(after_help = "\
The page is one HTML file that needs nothing else: open it in a browser, or print it from there. Of a show \
every scope with two effects or more is explored; --scope chooses one.

Examples:
  underover report preset:lamp-lines --out lines.html
  underover report preset:night-ferry --frame 320x180 --out ferry.html")]
pub(super) struct Report {
    #[command(flatten)]
    subject: SubjectOptions,
    /// The page to write
    #[arg(long, value_name = "REPORT.html")]
    out: PathBuf,
    /// Over how many beats flashes are counted, from the show's start on; without it over 16
    #[arg(long, value_name = "BEATS", value_parser = |text: &str| whole(text, 1_u32, 256))]
    over: Option<u32>,
    #[command(flatten)]
    replace: Replace,
}

impl Report {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let output = Output::made("--out", &self.out, "html", self.replace);
        check_places(slice::from_ref(&output))?;
        let mut subject = self.subject.open(Frame { width: 640, height: 360 })?;
        check_outputs(slice::from_ref(&output))?;
        subject.keeps(3)?;
        let (show, scope) = subject.whole();
        let mut chapters = Vec::new();
        if subject.path.chain.len() > 1 {
            chapters.push(chapter(&mut subject, None)?);
        }
        if !self.subject.names_scope() {
            for other in report::with_order(&show).into_iter().filter(|&other| other != scope) {
                chapters.push(chapter(&mut subject, Some((&show, other)))?);
            }
        }
        let mut watch = Watch::of(&show);
        watch.over_beats = self.over.map_or(watch.over_beats, f64::from);
        // Flashes are those of the show's own frame, however small the pictures are wanted.
        let frame = match &subject.opened {
            Opened::Show { show, .. } => show.frame,
            Opened::Chain { .. } => self.subject.frame_or(FLASHES_CHAIN_FRAME),
        };
        let mut telling = Telling::default();
        let about = match &subject.opened {
            Opened::Chain { preset, .. } => {
                About { name: preset.name.clone(), about: preset.about.clone(), is_chain: true }
            }
            Opened::Show { show, .. } => {
                About { name: show.name.clone(), about: show.about.clone(), is_chain: false }
            }
        };
        let gathered = report::Report::gathered(
            &mut subject.renderer,
            &mut subject.shelf,
            about,
            show,
            chapters,
            &report::Counting { watch, frame },
            |doing| {
                telling.tell(doing);
            },
        )?;
        drop(telling);
        let _now = doing("writing the page");
        let html = report::page(&gathered)?.html();
        output.write(html.as_bytes())?;
        note(&format!("wrote {} ({} KiB)", self.out.display(), html.len().div_ceil(1024)));
        subject.closing_notes();
        Ok(())
    }
}

/// Explores the subject's own chain, or that of another scope at the same moment.
fn chapter(subject: &mut Subject, other: Option<(&Show, Scope)>) -> anyhow::Result<Chapter> {
    let (path, place) = match other {
        None => (subject.path.clone(), subject.footage.clone()),
        Some((show, scope)) => {
            let moment = subject.path.moment;
            (PicturePath::of_scope(show, scope, moment, &mut subject.shelf)?, show.address(scope))
        }
    };
    let mut progress: Option<Progress> = None;
    let _doing = doing(format!("exploring {place}"));
    let chapter = Chapter::of(&mut subject.renderer, &path, place, |done, all| {
        progress.get_or_insert_with(|| Progress::of(all)).tell(done);
    })?;
    if let Some(progress) = progress {
        progress.finished();
    }
    Ok(chapter)
}
