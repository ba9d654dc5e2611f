//! The person's own folders: what is remembered between runs, what is set once, what is kept.

use std::env;
use std::ffi::OsString;
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
const KEPT_STATE: [&str; 5] = ["trials", "thumbnails", "made", "counted", "rendered"];
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
    folder_by(|name| env::var_os(name), [ours, windows, xdg, under_home])
}

fn folder_by(
    variable: impl Fn(&str) -> Option<OsString>,
    [ours, windows, xdg, under_home]: [&str; 4],
) -> Option<PathBuf> {
    let named = |name: &str| variable(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    if let Some(folder) = named(ours) {
        return Some(folder);
    }
    // What a person keeps would lie somewhere else with every folder that the program is begun in.
    let absolute = |name: &str| named(name).filter(|path| path.is_absolute());
    let base = if cfg!(windows) {
        absolute(windows)
    } else if cfg!(target_os = "macos") {
        absolute("HOME").map(|home| home.join("Library/Application Support"))
    } else {
        absolute(xdg).or_else(|| absolute("HOME").map(|home| home.join(under_home)))
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

    /// XDG Base Directory Specification 0.8: "All paths set in these environment variables must be absolute. If an
    /// implementation encounters a relative path in any of these variables it should consider the path invalid and
    /// ignore it."; "If $XDG_DATA_HOME is either not set or empty, a default equal to $HOME/.local/share should be used."
    #[cfg(all(unix, not(target_os = "macos")))]
    #[test]
    fn a_relative_folder_of_the_system_is_ignored() {
        let found = |variables: &[(&str, &str)]| {
            let variable = |name: &str| {
                variables.iter().find(|(known, _)| *known == name).map(|(_, value)| OsString::from(value))
            };
            let names = [DATA_VARIABLE, "APPDATA", "XDG_DATA_HOME", ".local/share"];
            folder_by(variable, names).map(|folder| folder.display().to_string())
        };
        let home = ("HOME", "/home/mate");
        for (variables, folder) in [
            (&[home, ("XDG_DATA_HOME", "/quay/data")][..], Some("/quay/data/underover")),
            (&[home, ("XDG_DATA_HOME", "quay/data")], Some("/home/mate/.local/share/underover")),
            (&[home, ("XDG_DATA_HOME", "./data")], Some("/home/mate/.local/share/underover")),
            (&[home, ("XDG_DATA_HOME", "~/data")], Some("/home/mate/.local/share/underover")),
            (&[home, ("XDG_DATA_HOME", "")], Some("/home/mate/.local/share/underover")),
            (&[home], Some("/home/mate/.local/share/underover")),
            (&[("HOME", "mate"), ("XDG_DATA_HOME", "data")], None),
            (&[], None),
            // Ours is for whoever begins the program, who may mean the folder that they are in.
            (&[home, (DATA_VARIABLE, "data"), ("XDG_DATA_HOME", "/quay/data")], Some("data")),
        ] {
            assert_eq!(found(variables).as_deref(), folder, "{variables:?}");
        }
    }

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
