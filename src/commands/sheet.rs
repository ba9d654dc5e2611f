//! `underover sheet`: pages to rebuild a chain or a whole show by hand.

use std::path::PathBuf;
use std::slice;

use clap::Args;

use super::note;
use super::opened::Opened;
use super::output::{Output, Replace, check_outputs, check_places};
use super::subject::SubjectOptions;
use crate::base::frame::Frame;
use crate::output::build_sheet;
use crate::output::build_sheet::{BuildSheet, ScopeSteps};
use crate::show::Show;

/// The options of `sheet`.
#[derive(Debug, Args)]
#[command(after_help = "\
A show as it is set up: bundles and levels with blend and opacity, clips with their footage, sections with what each \
changes, controls. Then every scope with effects, in the order in which the picture passes through them; each effect \
with its settings, its curves, and the picture after it; which pairs may change places, and which must not; where a \
section lays another chain on a scope, that chain too. It takes as many A4 pages as it needs. The ending of the file \
says how it is written: .html prints page by page, .svg has the pages one below the other, .png is a picture of \
them, .txt plain text.

Examples:
  underover sheet preset:landfall --out landfall.html
  underover sheet preset:night-ferry --out ferry.svg
  underover sheet preset:all-hands --footage photo.jpg --out hands.txt")]
pub(super) struct Sheet {
    #[command(flatten)]
    subject: SubjectOptions,
    /// The sheet to write: .html, .svg, .png or .txt
    #[arg(long, value_name = "SHEET.svg")]
    out: PathBuf,
    #[command(flatten)]
    replace: Replace,
}

impl Sheet {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let written = self.out.extension().map(|ending| ending.to_string_lossy().to_ascii_lowercase());
        let form =
            ["txt", "png", "html"].into_iter().find(|form| written.as_deref() == Some(form)).unwrap_or("svg");
        let output = Output::made("--out", &self.out, form, self.replace);
        check_places(slice::from_ref(&output))?;
        let documents = self.subject.documents()?;
        let mut subject = self.subject.open_by(&documents, Frame { width: 640, height: 360 })?;
        check_outputs(slice::from_ref(&output))?;
        subject.keeps(3)?;
        let (show, _) = subject.whole();
        let moment = subject.path.moment;
        let is_chain = matches!(subject.opened, Opened::Chain { .. });
        let sheet = if is_chain || self.subject.names_scope() {
            let steps = ScopeSteps::of(&mut subject.renderer, &subject.path, subject.footage.clone())?;
            let facts = build_sheet::facts((!is_chain).then_some(show.tempo_bpm), &moment, show.rate);
            BuildSheet::of_chain(subject.name.clone(), facts, steps)
        } else {
            let stands: Vec<(String, Show)> =
                documents.stands(&show)?.into_iter().map(|stand| (stand.name, stand.show)).collect();
            BuildSheet::of_show(&mut subject.renderer, &mut subject.shelf, &show, &stands, moment)?
        };
        let bytes = sheet.written(form)?;
        output.write(&bytes)?;
        note(&format!("wrote {}", self.out.display()));
        subject.closing_notes();
        Ok(())
    }
}
