//! Which files were worked on lately, and the folder that remembers such things.

use std::env;
use std::fs;
use std::path::{Path, PathBuf};

use crate::files;

/// The environment variable that names another state folder.
pub const STATE_VARIABLE: &str = "UNDEROVER_STATE";

/// Files that are remembered.
const MOST: usize = 12;

/// The folder for what the program remembers between runs; `None` where the system names none.
pub fn state_folder() -> Option<PathBuf> {
    let variable = |name: &str| env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    if let Some(folder) = variable(STATE_VARIABLE) {
        return Some(folder);
    }
    let base = if cfg!(windows) {
        variable("LOCALAPPDATA")
    } else if cfg!(target_os = "macos") {
        variable("HOME").map(|home| home.join("Library/Application Support"))
    } else {
        // XDG Base Directory Specification 0.8.
        variable("XDG_STATE_HOME").or_else(|| variable("HOME").map(|home| home.join(".local/state")))
    };
    base.map(|base| base.join("underover"))
}

/// The environment variable that names another folder for preferences.
pub const CONFIG_VARIABLE: &str = "UNDEROVER_CONFIG";

/// The folder for what a person sets once for all shows; `None` where the system names none.
pub fn config_folder() -> Option<PathBuf> {
    let variable = |name: &str| env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    if let Some(folder) = variable(CONFIG_VARIABLE) {
        return Some(folder);
    }
    let base = if cfg!(windows) {
        variable("APPDATA")
    } else if cfg!(target_os = "macos") {
        variable("HOME").map(|home| home.join("Library/Application Support"))
    } else {
        // XDG Base Directory Specification 0.8.
        variable("XDG_CONFIG_HOME").or_else(|| variable("HOME").map(|home| home.join(".config")))
    };
    base.map(|base| base.join("underover"))
}

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
        let text = list.as_ref().and_then(|list| fs::read_to_string(list).ok()).unwrap_or_default();
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
            let _ = files::write(list, text.as_bytes());
        }
    }
}
