//! Which shows use something of the library, or clips of another show.

use egui::{RichText, Ui};

use crate::library::Usage;
use crate::window::widgets::{name, path};

/// Draws a line for each.
pub(super) fn used_in(ui: &mut Ui, usages: &[Usage]) {
    for usage in usages {
        let places: Vec<String> =
            usage.places.iter().map(|(scope, state)| format!("{} ({})", name(scope), name(state))).collect();
        let file = name(&usage.file.file_name().unwrap_or_default().to_string_lossy());
        let text = format!("Used in {file}: {}", places.join(", "));
        ui.label(RichText::new(text).small()).on_hover_text(path(&usage.file));
    }
}
