//! The clips of another show on their way into this one: their footage is looked for on a thread of its own.

use std::path::PathBuf;
use std::sync::Arc;

use egui::Context;

use super::threads::worker::{Errand, News, Task, Worker};
use crate::base::folders::typed;
use crate::edit::{Edit, Pack};
use crate::library::relinked;
use crate::show::Show;
use crate::show::clip::FootageName;

/// What is asked of the thread: a pack, and the folder in which its footage lies here.
type Wanted = (Pack, Option<PathBuf>);

/// Which clips of another show are to be brought, and what is on its way.
#[derive(Default)]
pub struct Packs {
    /// The section whose clips are brought; none brings all.
    pub section: Option<usize>,
    /// The folder in which their footage lies, as it is written; nothing looks where it was.
    pub folder: String,
    wanted: Option<Wanted>,
    looking: Option<Errand>,
    looker: Option<Worker<Wanted, Pack>>,
}

/// What came of a pack: the change, what there is to say of it, and whether it changes anything.
pub struct Brought {
    pub edit: Edit,
    pub said: String,
    pub is_new: bool,
}

impl Packs {
    /// Begins with another show.
    pub fn forget(&mut self) {
        self.section = None;
    }

    /// Whether footage is being looked for.
    pub fn is_looking(&self) -> bool {
        self.looking.is_some() || self.wanted.is_some()
    }

    /// Asks for the clips of a show as they are chosen; gives why they are not brought.
    ///
    /// # Errors
    /// In words, where the folder is none.
    pub fn ask(&mut self, from: &Show) -> Result<(), String> {
        let folder = Some(self.folder.trim()).filter(|folder| !folder.is_empty()).map(typed);
        if let Some(folder) = folder.as_deref().filter(|folder| !folder.is_dir()) {
            return Err(format!("There is no folder {}.", folder.display()));
        }
        self.wanted = Some((Pack { from: from.clone(), section: self.section, links: Vec::new() }, folder));
        Ok(())
    }

    /// Has footage looked for that waits for it; gives what came of the last.
    pub fn take_in(&mut self, show: &Arc<Show>, ctx: &Context) -> Option<Result<Brought, String>> {
        let mut found = None;
        while let Some((number, said)) = self.looker.as_mut().and_then(Worker::hear) {
            if self.looking.take_if(|errand| errand.is(number)).is_none() {
                continue;
            }
            found = match said {
                News::Part(pack) | News::Finished(pack) => Some(brought(pack, show)),
                News::Failed(why) => Some(Err(format!("The clips were not brought: {why}"))),
                News::GaveWay => None,
            };
        }
        if self.looking.is_none()
            && let Some(wanted) = self.wanted.take()
        {
            let ctx = ctx.clone();
            let wake = move || ctx.request_repaint();
            let work = |(): &mut (), (pack, folder): Wanted, _: &Task<'_, Pack>| {
                let links = relinked(&pack, folder.as_deref());
                Ok(Pack { links, ..pack })
            };
            let looker = || Worker::new("clips", wake, || Ok(()), work);
            self.looking = Some(self.looker.get_or_insert_with(looker).ask(wanted));
        }
        found
    }
}

fn brought(pack: Pack, show: &Arc<Show>) -> Result<Brought, String> {
    let packed = pack.done(show).map_err(|error| error.to_string())?;
    let stand_ins = packed.clips.iter().filter(|scope| {
        let crate::show::Scope::Clip(b, l, c) = **scope else { return false };
        matches!(packed.show.bundles[b].levels[l].clips[c].footage, FootageName::StandIn(..))
    });
    let from = &pack.from.name;
    let mut said = match packed.clips.len() {
        0 => format!("No clip of {from} is new here."),
        1 => format!("One clip of {from} was brought."),
        count => format!("{count} clips of {from} were brought."),
    };
    match stand_ins.count() {
        0 => {}
        1 => said += " A stand-in shows for one.",
        count => said += &format!(" Stand-ins show for {count}."),
    }
    if !packed.notes.is_empty() {
        said += &format!(" {}.", packed.notes.join("; "));
    }
    let is_new = packed.show != **show;
    Ok(Brought { edit: Edit::Pack(Box::new(pack)), said, is_new })
}
