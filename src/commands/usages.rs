//! Which shows use something, told alike for chains of the library and for clips of another show.

use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;

use super::documents::Documents;
use super::note;
use super::output::{Output, Replace, check_places, figures_output, is_standard_output, say};
use crate::base::folders;
use crate::edit::RecentFiles;
use crate::files;
use crate::files::Document;
use crate::library::{Usage, shows_under};
use crate::show::Show;

/// The shows that are looked at, and where what is found goes.
#[derive(Debug, Args)]
pub(super) struct Among {
    /// Show files, or folders of them
    #[arg(value_name = "PATH")]
    paths: Vec<PathBuf>,
    /// The figures to write (`-` is standard output)
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    #[command(flatten)]
    replace: Replace,
}

#[derive(Debug, Serialize)]
struct UsageFigures<'a> {
    file: &'a Path,
    show: &'a str,
    place: Vec<PlaceFigures<'a>>,
}

#[derive(Debug, Serialize)]
struct PlaceFigures<'a> {
    scope: &'a str,
    state: &'a str,
}

impl Among {
    /// Whether what is found can be written where it is to go.
    pub(super) fn check(&self) -> anyhow::Result<()> {
        check_places(&figures_output(self.json.as_deref(), self.replace))
    }

    /// Tells what `of` finds in each show; `what` they would hold is the end of a sentence.
    pub(super) fn tell(
        &self,
        documents: &Documents,
        what: &str,
        of: impl Fn(&Path, &Show) -> Option<Usage>,
    ) -> anyhow::Result<()> {
        let files = looked_at(&self.paths);
        let mut found = Vec::new();
        let mut looked_at = 0;
        each_show(documents, &files, |file, show| {
            looked_at += 1;
            found.extend(of(file, show));
        });
        if let Some(json) = &self.json {
            let figures: Vec<UsageFigures<'_>> = found.iter().map(figures_of).collect();
            Output::figures(json, self.replace).write_json(&figures)?;
            if is_standard_output(json) {
                return Ok(());
            }
        }
        let mut text = String::new();
        for usage in &found {
            text += &format!("{} ({})\n", usage.file.display(), usage.show);
            for (scope, state) in &usage.places {
                text += &format!("    {scope}: {state}\n");
            }
        }
        text += &format!("{} of {looked_at} shows hold {what}\n", found.len());
        say(&text)
    }
}

fn figures_of(usage: &Usage) -> UsageFigures<'_> {
    let place = |(scope, state)| PlaceFigures { scope, state };
    let places = usage.places.iter().map(|(scope, state)| (scope.as_str(), state.as_str()));
    UsageFigures { file: &usage.file, show: &usage.show, place: places.map(place).collect() }
}

/// The files under these paths; without any, those that were opened in the window lately.
pub(super) fn looked_at(paths: &[PathBuf]) -> Vec<PathBuf> {
    if paths.is_empty() {
        return RecentFiles::read(folders::state_folder().as_deref()).files().to_vec();
    }
    paths.iter().flat_map(|path| shows_under(path)).collect()
}

/// Hands over every show among these files; which of them cannot be read is told.
pub(super) fn each_show(documents: &Documents, all: &[PathBuf], mut each: impl FnMut(&Path, &Show)) {
    for file in all {
        match files::read(file, &documents.catalogue) {
            Ok(Document::Show(show)) => each(file, &show),
            Ok(Document::Chain(_)) => {}
            Err(error) => note(&format!("note: not looked at: {error}")),
        }
    }
}

/// Whether two paths lead to one file.
pub(super) fn same_file(a: &Path, b: &Path) -> bool {
    let [a, b] = [a, b].map(|path| path.canonicalize().ok());
    a.is_some() && a == b
}
