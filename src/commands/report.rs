//! `underover report`: one page on a chain or a show, to read or to print.

use std::path::PathBuf;
use std::slice;

use clap::Args;

use super::flashes::{FLASHES_CHAIN_FRAME, Telling};
use super::note;
use super::opened::Opened;
use super::output::{Output, Replace, check_outputs, check_places, whole};
use super::progress::Progress;
use super::subject::{Subject, SubjectOptions, planned};
use crate::base::doing::doing;
use crate::base::frame::Frame;
use crate::output::page::{Recorded, Written};
use crate::output::report::{About, Chapter, SectionPart};
use crate::output::sections;
use crate::output::{page, report};
use crate::plan::Path as PicturePath;
use crate::readiness::Counts;
use crate::readiness::flashing::Watch;
use crate::show::running::OPEN_BEATS;
use crate::show::{Scope, Show};

/// Megabytes of a page where nothing else is asked.
const PAGE_MEGABYTES: usize = page::PAGE_BYTES / 1_000_000;

/// The options of `report`.
#[derive(Debug, Args)]
#[command(after_help = "\
The page is one HTML file that needs nothing else: open it in a browser, or print it from there. Of a show \
every scope with two effects or more is explored; --scope chooses one. Of a show with sections each is told with its \
picture, what it changes, and what flashes in it.

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
    size: PageSize,
    #[command(flatten)]
    replace: Replace,
}

impl Report {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let output = Output::made("--out", &self.out, "html", self.replace);
        check_places(slice::from_ref(&output))?;
        let documents = self.subject.documents()?;
        let mut subject = self.subject.open_by(&documents, Frame { width: 640, height: 360 })?;
        check_outputs(slice::from_ref(&output))?;
        subject.keeps(3)?;
        let (show, scope) = subject.whole();
        let (mut chapters, mut live) = (Vec::new(), None);
        if subject.path.chain.len() > 1 {
            let first = chapter(&mut subject, None)?;
            live = Some(recorded(&mut subject, &first, self.size)?);
            chapters.push(first);
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
        let lines = sections::sections(&show, show.running(OPEN_BEATS).as_ref());
        let stands = documents.all_stands(&show)?;
        let counting = report::Counting { watch, frame };
        let mut counts = Counts::default();
        let mut gathered = report::Report::gathered(
            &mut subject.renderer,
            &mut subject.shelf,
            about,
            show,
            chapters,
            (&counting, &mut counts),
            |doing| {
                telling.tell(doing);
            },
        )?;
        for stand in stands {
            let lines = lines[stand.section].clone();
            let moment = subject.path.moment;
            gathered.sections.push(SectionPart::of(
                &mut subject.renderer,
                &mut subject.shelf,
                (lines, &stand.show),
                moment,
                (&counting, &mut counts),
                |doing| {
                    telling.tell_in(Some(&stand.name), doing);
                },
            )?);
        }
        drop(telling);
        gathered.live = live;
        let _now = doing("writing the page");
        self.size.write(&output, &report::html(&gathered, self.size.bytes())?)?;
        subject.closing_notes();
        Ok(())
    }
}

/// How large a page may be.
#[derive(Debug, Clone, Copy, Args)]
pub(super) struct PageSize {
    /// How large a page may be, in MB: pictures move over as many moments as that leaves room for, and stills are packed
    /// closer where they alone take more
    #[arg(id = "page_size", long = "page-size", value_name = "MB", default_value_t = PAGE_MEGABYTES, value_parser = |text: &str| whole(text, 1_usize, 1000))]
    megabytes: usize,
}

impl Default for PageSize {
    fn default() -> Self {
        Self { megabytes: PAGE_MEGABYTES }
    }
}

impl PageSize {
    /// In bytes.
    pub(super) fn bytes(self) -> usize {
        self.megabytes * 1_000_000
    }

    /// Writes a page, and says what it came to.
    pub(super) fn write(self, output: &Output, page: &Written) -> anyhow::Result<()> {
        output.write(page.html.as_bytes())?;
        let size = page.html.len().div_ceil(1000);
        note(&format!("wrote {} ({size} kB)", output.path().display()));
        if page.html.len() > self.bytes() {
            note(&format!(
                "note: that is more than {} MB, though all is as small as it can be",
                self.megabytes
            ));
        } else if let Some(smaller) = &page.smaller {
            note(&format!("note: {}", smaller.replace('`', "")));
        }
        Ok(())
    }
}

/// The chain of a chapter as its page runs it.
pub(super) fn recorded(subject: &mut Subject, chapter: &Chapter, size: PageSize) -> anyhow::Result<Recorded> {
    let _doing = doing("recording the chain for its page");
    let (name, said) = match &subject.opened {
        Opened::Chain { preset, .. } => (preset.name.clone(), preset.about.clone()),
        Opened::Show { show, .. } => (show.name.clone(), show.about.clone()),
    };
    let about = page::About {
        name: &name,
        about: &said,
        plays_within: size.bytes(),
        explored: Some(&chapter.explored),
        swaps: &chapter.swaps,
    };
    let path = subject.path.clone();
    let Subject { renderer, shelf, opened, warm_up, .. } = subject;
    Ok(Recorded::of(renderer, &path, &about, |moment| Ok(planned(opened, shelf, *warm_up, moment, false)?))?)
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
