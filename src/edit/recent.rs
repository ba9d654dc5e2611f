//! Which files were worked on lately.

use std::fs;
use std::path::{Path, PathBuf};

use crate::base::plain;
use crate::files;

/// Files that are remembered.
const MOST: usize = 12;

/// Files worked on lately, the latest first.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct RecentFiles {
    files: Vec<PathBuf>,
    list: Option<PathBuf>,
}

impl RecentFiles {
    /// The files that the list in `folder` names; none where there is no list.
    pub fn read(folder: Option<&Path>) -> Self {
        let list = folder.map(|folder| folder.join("recent.txt"));
        let text = list
            .as_ref()
            .and_then(|list| plain::read_text(list, plain::MOST_OWN_BYTES).ok())
            .unwrap_or_default();
        let files = text.lines().filter(|line| !line.is_empty()).map(PathBuf::from).take(MOST).collect();
        Self { files, list }
    }

    /// The files, the latest first.
    pub fn files(&self) -> &[PathBuf] {
        &self.files
    }

    /// Puts a file first, and writes the list.
    pub fn note(&mut self, file: &Path) {
        let file = std::path::absolute(file).unwrap_or_else(|_| file.to_owned());
        self.files.retain(|known| *known != file);
        self.files.insert(0, file);
        self.files.truncate(MOST);
        if let Some(list) = &self.list {
            let text: String = self.files.iter().map(|file| format!("{}\n", file.display())).collect();
            // A list that cannot be written is a convenience lost, nothing more.
            let _ = fs::create_dir_all(list.parent().unwrap_or(Path::new("")));
            let _ = files::keep(list, text.as_bytes());
        }
    }
}
