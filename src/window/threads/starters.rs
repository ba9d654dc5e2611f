//! A show kept as a starter, whose footage is opened for it.

use std::path::PathBuf;
use std::sync::atomic::Ordering;

use super::worker::{Task, Unfinished};
use crate::catalogue::Catalogue;
use crate::edit::Work;
use crate::footage::Shelf;
use crate::library::{Kind, Library, LibraryError, starter_of};
use crate::show::Show;

/// A show that is to be kept as a starter.
pub struct Starter {
    pub work: Work,
    pub name: String,
    pub library: Library,
    pub catalogue: Catalogue,
}

/// The file of a starter, and which footage could not be looked at.
pub type KeptStarter = Result<(PathBuf, Vec<String>), LibraryError>;

/// Keeps a starter: every piece of its footage is opened for it, which can take long.
pub fn keep_starter(starter: Starter, task: &Task<'_, KeptStarter>) -> Result<KeptStarter, Unfinished> {
    let Starter { work, name, library, catalogue } = starter;
    let mut shelf = Shelf::new(&catalogue);
    let stop = task.stop();
    shelf.give_up_when(move || stop.load(Ordering::Relaxed));
    let show = Show { name, ..(**work.show()).clone() };
    let (starter, notes) = starter_of(&show, &mut shelf);
    if !task.is_wanted() {
        // Nothing is kept whose footage was not looked at.
        return Err(Unfinished::GaveWay);
    }
    let file = library.keep_text(Kind::Starter, &starter.name, |name| {
        work.text_as(&Show { name: name.to_owned(), ..starter.clone() })
    });
    Ok(file.map(|file| (file, notes)))
}
