//! The effects of a person's own while the program runs: looked at again, taken in where they are right.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;

use super::Trials;
use crate::base::stamp::Stamp;
use crate::catalogue::{Catalogue, CatalogueError, Effect, Standing, own_files, read_file};

/// Folders of effects, and what stood in them when they were looked at last.
#[derive(Debug)]
pub struct OwnEffects {
    shipped: Catalogue,
    folders: Vec<PathBuf>,
    trials: Trials,
    files: BTreeMap<PathBuf, File>,
    is_first: bool,
}

#[derive(Debug, Default)]
struct File {
    stamp: Option<Stamp>,
    /// Its last version that was right, and tried.
    good: Option<Arc<Effect>>,
    /// What is wrong with it as it is now.
    problem: Option<String>,
}

impl OwnEffects {
    /// Of these folders, which need not be there; the first has the say where two files have one name.
    ///
    /// # Errors
    /// [`CatalogueError`] where the program was built wrongly.
    pub fn of(folders: Vec<PathBuf>, trials: Trials) -> Result<Self, CatalogueError> {
        let shipped = Catalogue::built_in()?;
        Ok(Self { shipped, folders, trials, files: BTreeMap::new(), is_first: true })
    }

    /// The catalogue, where a file has changed since the last look; the first look always gives one.
    ///
    /// A file that is wrong now leaves its last right version in the catalogue, and stands among the problems.
    pub fn look(&mut self) -> Option<Catalogue> {
        let paths: Vec<PathBuf> =
            self.folders.iter().flat_map(|folder| own_files(folder).unwrap_or_default()).collect();
        let before = self.files.len();
        self.files.retain(|path, _| paths.contains(path));
        let mut has_changed = std::mem::take(&mut self.is_first) || self.files.len() != before;
        let mut fresh = self.shipped.clone();
        let mut read: Vec<(PathBuf, Arc<Effect>)> = Vec::new();
        for path in &paths {
            let stamp = Stamp::of(path);
            let is_new = !self.files.contains_key(path);
            let file = self.files.entry(path.clone()).or_default();
            if !is_new && file.stamp == stamp {
                continue;
            }
            has_changed = true;
            file.stamp = stamp;
            file.problem = None;
            match read_file(path).map(Arc::new) {
                Ok(effect) if file.good.as_ref().is_some_and(|good| good.content == effect.content) => {}
                Ok(effect) => match fresh.add(Arc::clone(&effect)) {
                    Ok(()) => read.push((path.clone(), effect)),
                    Err(error) => file.problem = Some(error.to_string()),
                },
                Err(error) => file.problem = Some(error.to_string()),
            }
        }
        if !has_changed {
            return None;
        }
        self.trials.settle(&mut fresh, |_| ());
        for (path, effect) in read {
            let Some(file) = self.files.get_mut(&path) else { continue };
            match fresh.own().find(|tried| tried.origin == effect.origin) {
                Some(tried) => file.good = Some(Arc::clone(tried)),
                None => {
                    let problem = fresh.problems().iter().find(|problem| problem.origin == effect.origin);
                    file.problem = problem.map(|problem| problem.reason.clone());
                }
            }
        }
        Some(self.gathered(&paths))
    }

    fn gathered(&self, paths: &[PathBuf]) -> Catalogue {
        let mut catalogue = self.shipped.clone();
        for path in paths {
            let Some(file) = self.files.get(path) else { continue };
            let mut in_use = "";
            if let Some(good) = &file.good {
                match catalogue.add(Arc::clone(good)) {
                    Ok(()) => in_use = "; its last version that was right stays in use",
                    Err(error) => catalogue.note_problem(path, error.to_string()),
                }
            }
            if let Some(problem) = &file.problem {
                catalogue.note_problem(path, format!("{problem}{in_use}"));
            }
        }
        catalogue
    }
}

/// What is to be told of the effects of a person's own: files that are wrong, and claims that do not hold.
pub fn troubles(catalogue: &Catalogue) -> Vec<String> {
    let refuted = catalogue.own().flat_map(|effect| match &effect.standing {
        Standing::Refuted(lines) => lines.to_vec(),
        _ => Vec::new(),
    });
    catalogue.problems().iter().map(|problem| problem.reason.clone()).chain(refuted).collect()
}
