//! The footage of another show's clips, found by its name in a folder of this machine.

use std::cmp::Reverse;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use super::under::files_under;
use crate::edit::{Link, Pack};
use crate::footage::Pattern;
use crate::show::clip::{FootageName, STANDARD_INPUT, StandIn};
use crate::show::{Clip, ClipPlace};

/// Where the footage of the clips of a pack lies here: in the folder, or in one inside it, by the names of its files;
/// else where it was. What is in neither place has a stand-in.
pub fn relinked(pack: &Pack, folder: Option<&Path>) -> Vec<Link> {
    let here = folder.map(Here::in_folder);
    let link = |place: ClipPlace| linked(pack.from.clip(place)?, place, here.as_ref());
    pack.wanted().into_iter().filter_map(link).collect()
}

/// What lies in a folder and those inside it.
struct Here {
    folder: PathBuf,
    files: Vec<PathBuf>,
    folders: BTreeSet<PathBuf>,
}

impl Here {
    fn in_folder(folder: &Path) -> Self {
        let files = files_under(folder, |_| true);
        let folders = files.iter().filter_map(|file| file.parent()).map(Path::to_owned);
        Self { folder: folder.to_owned(), folders: folders.collect(), files }
    }

    /// The file that is called like another, or the numbered files that are, nearest to it in the folders that it lies
    /// in; and how many are called so.
    fn like(&self, path: &Path) -> Option<(PathBuf, usize)> {
        let name = path.file_name()?;
        let found: Vec<PathBuf> = match Pattern::of(path) {
            Some(_) => {
                let named = self.folders.iter().map(|folder| folder.join(name));
                named.filter(|path| is_there(path)).collect()
            }
            None => {
                let is_it =
                    |file: &&PathBuf| file.file_name().is_some_and(|own| own.eq_ignore_ascii_case(name));
                self.files.iter().filter(is_it).cloned().collect()
            }
        };
        let count = found.len();
        let nearest = found.into_iter().min_by_key(|file| (Reverse(shared(file, path)), file.clone()));
        nearest.map(|file| (file, count))
    }
}

/// How many folders two files lie in that are called alike, from the file up.
fn shared(a: &Path, b: &Path) -> usize {
    let [a, b] = [a, b].map(|path| path.components().rev().skip(1));
    a.zip(b).take_while(|(a, b)| a == b).count()
}

fn is_there(path: &Path) -> bool {
    match Pattern::of(path) {
        Some(numbered) => !numbered.numbers().is_empty(),
        None => path.exists() && !path.is_dir(),
    }
}

fn linked(clip: &Clip, place: ClipPlace, here: Option<&Here>) -> Option<Link> {
    let FootageName::File { path, written } = &clip.footage else { return None };
    if written == STANDARD_INPUT {
        return None;
    }
    if let Some((found, count)) = here.and_then(|here| here.like(path)) {
        // Written, it is named from the folder of the file that it is written to.
        let written = found.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let several = || format!("{count} files are called {written}: {} is taken", found.display());
        let note = (count > 1).then(several);
        return Some(Link { clip: place, footage: FootageName::File { written, path: found }, note });
    }
    if is_there(path) {
        let note = here.map(|here| {
            format!("{} is not in {}; it stays where it was", path.display(), here.folder.display())
        });
        return Some(Link { clip: place, footage: clip.footage.clone(), note });
    }
    let note = Some(format!("there is no {}; a stand-in shows", path.display()));
    let footage = FootageName::StandIn(StandIn::Picture, clip.name.clone());
    Some(Link { clip: place, footage, note })
}
