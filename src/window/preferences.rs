//! What the window remembers of a person between runs: the theme, the sizes of text, tiles and panels, the tab.

use std::fs;
use std::path::{Path, PathBuf};

use thiserror::Error;

use super::arrangement::{Edge, MOST_POINTS, PanelSizes};
use super::showing::Tab;
use crate::base::place::{did_you_mean, listed};
use crate::base::plain;
use crate::base::plain::PlainError;
use crate::base::words::words;
use crate::files;
use crate::files::WriteError;
use crate::files::keys::{Group, Key, Takes};

/// Least and largest size of text, in per cent of the usual.
pub const TEXT_PERCENT: [u32; 2] = [80, 200];
/// What a key or a press changes it by.
pub const TEXT_STEP: u32 = 10;
/// Least and largest size of tiles, in per cent of the usual.
pub const TILE_PERCENT: [u32; 2] = [50, 300];
/// The room that the window needs for its panels, in points: where text would leave less, it stays smaller.
const LEAST_ROOM: egui::Vec2 = egui::vec2(820.0, 512.0);
/// Up to this size of window, in points, text has its usual size; in larger ones it grows by the root of what is more.
const COMMON_ROOM: egui::Vec2 = egui::vec2(1920.0, 1200.0);
const FORMAT: &str = "underover/preferences/1";

/// The file of preferences: what is wrong in it is said when the window opens, and the usual stands in.
pub static PREFERENCES: Group = Group {
    name: "preferences",
    about: "What the window remembers of a person, in preferences.toml of the folder for configuration.",
    keys: &[
        Key::usual(
            "format",
            Takes::Just(FORMAT),
            "\"underover/preferences/1\"",
            "says that these are preferences",
        ),
        Key::usual(
            "theme",
            Takes::Word(|| ThemeChoice::ALL.map(ThemeChoice::name).to_vec()),
            "\"dark\"",
            "light or dark",
        ),
        Key::usual("text_percent", Takes::Whole(TEXT_PERCENT, "per cent"), "100", "size of text"),
        Key::usual(
            "tile_percent",
            Takes::Whole(TILE_PERCENT, "per cent"),
            "100",
            "size of the tiles of walls",
        ),
        Key::usual(
            "tab",
            Takes::Word(|| Tab::ALL.map(Tab::name).to_vec()),
            "\"orders\"",
            "what stands beside the picture",
        ),
        Key::usual(STRUCTURE, Takes::Truth, "true", "whether bundles, levels and clips stand beside it"),
        Key::may("structure_points", POINTS, "by the size of the window", "width of the structure"),
        Key::may("beside_points", POINTS, "by the size of the window", "width of the tabs"),
        Key::may("settings_points", POINTS, "by the size of the window", "height of the settings"),
    ],
    rivals: &[],
};
const POINTS: Takes = Takes::Whole([1, MOST_POINTS as u32], "points");

words! {
    /// Light or dark.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    pub enum ThemeChoice {
        /// Dark, for rooms that are.
        #[default]
        Dark = "dark",
        /// Light.
        Light = "light",
        /// As the system has it.
        System = "system",
    }
}

impl ThemeChoice {
    /// The word on its control.
    pub fn label(self) -> &'static str {
        match self {
            Self::Dark => "Dark",
            Self::Light => "Light",
            Self::System => "As the system",
        }
    }

    /// The next one, round and round.
    pub fn next(self) -> Self {
        match self {
            Self::Dark => Self::Light,
            Self::Light => Self::System,
            Self::System => Self::Dark,
        }
    }

    /// As the interface takes it.
    pub fn preference(self) -> egui::ThemePreference {
        match self {
            Self::Dark => egui::ThemePreference::Dark,
            Self::Light => egui::ThemePreference::Light,
            Self::System => egui::ThemePreference::System,
        }
    }
}

/// Why preferences are not those that the person set.
#[derive(Debug, Error)]
pub enum PreferencesError {
    /// The file does not read.
    #[error("the preferences in `{file}` were not all read: {why}; the usual ones stand in")]
    Read {
        file: String,
        /// What was found, and what is allowed.
        why: String,
    },
    /// The file was not written.
    #[error("the preferences are not remembered: {0}")]
    Write(#[from] WriteError),
}

/// What is remembered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Preferences {
    /// Light or dark.
    pub theme: ThemeChoice,
    /// Size of text, in per cent of the usual: 80 to 200.
    pub text_percent: u32,
    /// Size of the tiles of walls, in per cent of the usual: 50 to 300.
    pub tile_percent: u32,
    /// The tab beside the picture.
    pub tab: Tab,
    /// The sizes of panels that were dragged.
    pub sizes: PanelSizes,
    /// Whether the column of bundles, levels and clips is closed.
    pub hides_structure: bool,
}

impl Default for Preferences {
    fn default() -> Self {
        Self {
            theme: ThemeChoice::default(),
            text_percent: 100,
            tile_percent: 100,
            tab: Tab::Orders,
            sizes: PanelSizes::default(),
            hides_structure: false,
        }
    }
}

impl Preferences {
    /// The preferences kept in a folder, and what of them does not read: for each such, the usual one.
    pub fn read(folder: Option<&Path>) -> (Self, Option<PreferencesError>) {
        let Some(file) = folder.map(file_in) else { return (Self::default(), None) };
        let text = match plain::read_text(&file, plain::MOST_OWN_BYTES) {
            Ok(text) => text,
            Err(PlainError::Refused(error)) if error.kind() == std::io::ErrorKind::NotFound => {
                return (Self::default(), None);
            }
            Err(error) => return (Self::default(), Some(broken(&file, error.to_string()))),
        };
        let (preferences, why) = Self::parsed(&text);
        (preferences, (!why.is_empty()).then(|| broken(&file, why.join("; "))))
    }

    fn parsed(text: &str) -> (Self, Vec<String>) {
        let mut preferences = Self::default();
        let table = match text.parse::<toml::Table>() {
            Ok(table) => table,
            Err(error) => return (preferences, vec![error.message().to_owned()]),
        };
        let mut why = Vec::new();
        let mut word = |key: &str, names: &[&str]| -> Option<usize> {
            let found = table.get(key)?;
            let place = found.as_str().and_then(|found| names.iter().position(|name| *name == found));
            if place.is_none() {
                let near = did_you_mean(found.as_str().unwrap_or_default(), names.iter().copied());
                why.push(format!("`{key}` is {found}; it takes {}{near}", listed(names.iter().copied())));
            }
            place
        };
        if let Some(place) = word("theme", &ThemeChoice::ALL.map(ThemeChoice::name)) {
            preferences.theme = ThemeChoice::ALL[place];
        }
        if let Some(place) = word("tab", &Tab::ALL.map(Tab::name)) {
            preferences.tab = Tab::ALL[place];
        }
        let Self { text_percent, tile_percent, .. } = &mut preferences;
        for (key, [low, high], size) in
            [("text_percent", TEXT_PERCENT, text_percent), ("tile_percent", TILE_PERCENT, tile_percent)]
        {
            let Some(found) = table.get(key) else { continue };
            match found.as_integer().and_then(|percent| u32::try_from(percent).ok()) {
                Some(percent) if (low..=high).contains(&percent) => *size = percent,
                _ => why.push(format!("`{key}` is {found}; it takes a whole number from {low} to {high}")),
            }
        }
        if let Some(found) = table.get(STRUCTURE) {
            match found.as_bool() {
                Some(shows) => preferences.hides_structure = !shows,
                None => why.push(format!("`{STRUCTURE}` is {found}; it takes true or false")),
            }
        }
        for edge in Edge::ALL {
            let Some(found) = table.get(&size_key(edge)) else { continue };
            match found.as_integer().and_then(|points| u16::try_from(points).ok()) {
                Some(points) if (1..=MOST_POINTS).contains(&points) => {
                    preferences.sizes.set(edge, Some(points));
                }
                _ => why.push(format!(
                    "`{}` is {found}; it takes a whole number of points from 1 to {MOST_POINTS}",
                    size_key(edge)
                )),
            }
        }
        (preferences, why)
    }

    /// Keeps the preferences in a folder, which is made if need be.
    ///
    /// # Errors
    /// [`PreferencesError::Write`]; what was kept before is still there.
    pub fn keep(&self, folder: &Path) -> Result<(), PreferencesError> {
        // Where it cannot be made, the writing says so.
        let _ = fs::create_dir_all(folder);
        let mut text = format!(
            "format = \"{FORMAT}\"\ntheme = \"{}\"\ntext_percent = {}\ntab = \"{}\"\n",
            self.theme.name(),
            self.text_percent,
            self.tab.name()
        );
        if self.tile_percent != 100 {
            text += &format!("tile_percent = {}\n", self.tile_percent);
        }
        if self.hides_structure {
            text += &format!("{STRUCTURE} = false\n");
        }
        for edge in Edge::ALL {
            if let Some(points) = self.sizes.of(edge) {
                text += &format!("{} = {points}\n", size_key(edge));
            }
        }
        Ok(files::keep(&file_in(folder), text.as_bytes())?)
    }

    /// By how much the interface is enlarged in a window of this size, in points of the usual size.
    pub fn zoom(&self, window: egui::Vec2) -> f32 {
        // A large window is looked at from further away, or on a screen of fine pixels.
        let usual = (window / COMMON_ROOM).min_elem().sqrt().clamp(1.0, 1.5);
        let wanted = usual * self.text_percent as f32 / 100.0;
        let room = (window / LEAST_ROOM).min_elem();
        wanted.min(room.max(1.0))
    }
}

/// What says in the file whether the structure is shown.
const STRUCTURE: &str = "structure";

/// What the size of a panel is called in the file.
fn size_key(edge: Edge) -> String {
    format!("{}_points", edge.name())
}

fn file_in(folder: &Path) -> PathBuf {
    folder.join("preferences.toml")
}

fn broken(file: &Path, why: String) -> PreferencesError {
    PreferencesError::Read { file: file.display().to_string(), why }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn preferences_read_as_they_were_kept() {
        let folder = tempfile::tempdir().unwrap();
        let inner = folder.path().join("new");
        let mut sizes = PanelSizes::default();
        sizes.set(Edge::Beside, Some(512));
        let kept = Preferences {
            theme: ThemeChoice::System,
            text_percent: 140,
            tile_percent: 220,
            tab: Tab::Swaps,
            sizes,
            hides_structure: true,
        };
        kept.keep(&inner).unwrap();
        let (read, error) = Preferences::read(Some(&inner));
        assert_eq!(read, kept);
        assert!(error.is_none());
    }

    #[test]
    fn a_broken_file_gives_the_usual_preferences_and_says_what_is_wrong() {
        let folder = tempfile::tempdir().unwrap();
        let read = |text: &[u8]| {
            fs::write(folder.path().join("preferences.toml"), text).unwrap();
            let (read, error) = Preferences::read(Some(folder.path()));
            (read, error.map(|error| error.to_string()).unwrap_or_default())
        };
        for text in [&b"theme = "[..], b"\xff\xfe", b"theme = 3\ntext_percent = 4000\ntab = []"] {
            let (preferences, error) = read(text);
            assert_eq!(preferences, Preferences::default());
            assert!(error.contains("preferences.toml"), "{error}");
        }
        let (preferences, error) = read(b"beside_points = 400\nsettings_points = -3");
        assert_eq!([Edge::Beside, Edge::Settings].map(|edge| preferences.sizes.of(edge)), [Some(400), None]);
        assert!(error.contains("settings_points") && error.contains("8192"), "{error}");
        let (preferences, error) = read(b"tile_percent = 20\ntext_percent = 90");
        assert_eq!((preferences.tile_percent, preferences.text_percent), (100, 90));
        assert!(error.contains("tile_percent") && error.contains("50 to 300"), "{error}");
        let (preferences, error) = read(b"theme = \"lihgt\"\ntext_percent = 120\nlater = 1");
        assert_eq!(preferences.text_percent, 120, "what reads is taken");
        assert!(error.contains("light") && error.contains("did you mean"), "{error}");
    }

    #[test]
    fn text_is_enlarged_as_far_as_the_window_has_room() {
        let large = Preferences { text_percent: 200, ..Preferences::default() };
        assert_eq!(large.zoom(egui::vec2(1920.0, 1200.0)), 2.0);
        let zoom = large.zoom(egui::vec2(1024.0, 640.0));
        assert!((1.2..1.3).contains(&zoom), "{zoom}");
        let small = Preferences { text_percent: 80, ..Preferences::default() };
        assert_eq!(small.zoom(egui::vec2(1024.0, 640.0)), 0.8);
        let usual = Preferences::default();
        assert_eq!(usual.zoom(egui::vec2(1280.0, 800.0)), 1.0);
        let zoom = usual.zoom(egui::vec2(3840.0, 2160.0));
        assert!((1.3..1.4).contains(&zoom), "{zoom}");
    }
}
