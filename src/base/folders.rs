//! The person's own folders: what is remembered between runs, what is set once, what is kept.

use std::env;
use std::fs;
use std::path::{Path, PathBuf, is_separator};

/// The environment variable that names another state folder.
pub const STATE_VARIABLE: &str = "UNDEROVER_STATE";
/// The environment variable that names another folder for preferences.
pub const CONFIG_VARIABLE: &str = "UNDEROVER_CONFIG";
/// The environment variable that names another folder for presets, starters and effects of one's own.
pub const DATA_VARIABLE: &str = "UNDEROVER_DATA";

/// The folder for what the program remembers between runs; `None` where the system names none.
pub fn state_folder() -> Option<PathBuf> {
    folder(STATE_VARIABLE, "LOCALAPPDATA", "XDG_STATE_HOME", ".local/state")
}

/// The folder for what a person sets once for all shows; `None` where the system names none.
pub fn config_folder() -> Option<PathBuf> {
    folder(CONFIG_VARIABLE, "APPDATA", "XDG_CONFIG_HOME", ".config")
}

/// The folder for what a person keeps from show to show; `None` where the system names none.
pub fn data_folder() -> Option<PathBuf> {
    folder(DATA_VARIABLE, "APPDATA", "XDG_DATA_HOME", ".local/share")
}

/// What lies in the person's data folder: each folder is the program's, whatever else stands beside them.
const KEPT_DATA: [&str; 5] = ["chains", "starters", "lessons", "effects", "bin"];
/// Folders of the state folder.
const KEPT_STATE: [&str; 2] = ["trials", "thumbnails"];
/// What the files that lie in the state folder itself, or in the one for preferences, end in.
const KEPT_ENDINGS: [&str; 3] = ["toml", "txt", "lock"];
/// The one of another ending.
const KEPT_INDEX: &str = "library-index.json";

/// Whether a file, by its path with all links followed, is one that lies in these folders as part of them.
pub fn keeps(file: &Path) -> bool {
    let there = |folder: Option<PathBuf>| folder.and_then(|folder| fs::canonicalize(folder).ok());
    let inside = |folder: &PathBuf, names: &[&str]| {
        let inside = names.iter().filter_map(|name| fs::canonicalize(folder.join(name)).ok());
        inside.into_iter().any(|folder| file.starts_with(folder))
    };
    let is_own = || {
        let ending = file.extension().unwrap_or_default().to_string_lossy();
        KEPT_ENDINGS.contains(&&*ending) || file.file_name().is_some_and(|name| name == KEPT_INDEX)
    };
    let lies_in = |folder: &PathBuf| file.parent() == Some(folder) && is_own();
    there(data_folder()).is_some_and(|folder| inside(&folder, &KEPT_DATA))
        || there(state_folder()).is_some_and(|folder| inside(&folder, &KEPT_STATE) || lies_in(&folder))
        || there(config_folder()).is_some_and(|folder| lies_in(&folder))
}

/// The folder that `ours` names, else this program's in the system's: XDG Base Directory Specification 0.8, or
/// what stands for it on Windows and macOS.
fn folder(ours: &str, windows: &str, xdg: &str, under_home: &str) -> Option<PathBuf> {
    let variable = |name: &str| env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    if let Some(folder) = variable(ours) {
        return Some(folder);
    }
    let base = if cfg!(windows) {
        variable(windows)
    } else if cfg!(target_os = "macos") {
        variable("HOME").map(|home| home.join("Library/Application Support"))
    } else {
        variable(xdg).or_else(|| variable("HOME").map(|home| home.join(under_home)))
    };
    base.map(|base| base.join("underover"))
}

/// The path that a person typed: `~` is the home folder, as in a shell.
pub fn typed(text: &str) -> PathBuf {
    let text = text.trim();
    let rest = text.strip_prefix('~').filter(|rest| rest.is_empty() || rest.starts_with(is_separator));
    match rest.zip(env::home_dir()) {
        Some((rest, home)) => home.join(rest.trim_start_matches(is_separator)),
        None => PathBuf::from(text),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tilde_is_the_home_folder_where_it_stands_alone_or_before_a_separator() {
        let home = env::home_dir().unwrap();
        for (text, path) in [
            ("~", home.clone()),
            (" ~/ ", home.clone()),
            ("~/shows/friday.toml", home.join("shows/friday.toml")),
            ("~friday.toml", PathBuf::from("~friday.toml")),
            ("shows/~/a.toml", PathBuf::from("shows/~/a.toml")),
            ("/a b/c.toml", PathBuf::from("/a b/c.toml")),
        ] {
            assert_eq!(typed(text), path, "{text}");
        }
    }
}
