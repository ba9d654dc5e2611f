//! The rows of the structure: every bundle, level and clip as they stand in the column.

use egui::Id;

use crate::show::{Scope, Show};

/// Every bundle, level and clip as they stand in the column: what lies over the rest first, a level's clips in their turn.
pub fn rows(show: &Show) -> Vec<Scope> {
    let mut rows = Vec::new();
    for (b, bundle) in show.bundles.iter().enumerate().rev() {
        rows.push(Scope::Bundle(b));
        for (l, level) in bundle.levels.iter().enumerate().rev() {
            rows.push(Scope::Level(b, l));
            rows.extend((0..level.clips.len()).map(|c| Scope::Clip(b, l, c)));
        }
    }
    rows
}

/// What a row of the column is known by.
pub fn row_id(scope: Scope) -> Id {
    Id::unique(("row of the structure", scope))
}

/// The gap into which something goes that is moved one row up or down; nothing at the end of its own.
pub fn next_gap(show: &Show, scope: Scope, is_up: bool) -> Option<Scope> {
    // What lies over the rest stands higher; of clips the first does.
    let gap = |at: usize, count: usize, is_on: bool| match is_on {
        true => (at + 1 < count).then_some(at + 2),
        false => at.checked_sub(1),
    };
    Some(match scope {
        Scope::Global => return None,
        Scope::Bundle(b) => Scope::Bundle(gap(b, show.bundles.len(), is_up)?),
        Scope::Level(b, l) => {
            let bundle = &show.bundles[b];
            match gap(l, bundle.levels.len(), is_up) {
                Some(gap) => Scope::Level(b, gap),
                // Over the border into the next bundle.
                None if is_up && b + 1 < show.bundles.len() => Scope::Level(b + 1, 0),
                None if !is_up && b > 0 => Scope::Level(b - 1, show.bundles[b - 1].levels.len()),
                None => return None,
            }
        }
        Scope::Clip(b, l, c) => Scope::Clip(b, l, gap(c, show.bundles[b].levels[l].clips.len(), !is_up)?),
    })
}
