//! The person's own folders: what is remembered between runs, what is set once, what is kept.

use std::env;
use std::path::PathBuf;

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
