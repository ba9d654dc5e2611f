//! Commands as they are chosen by their words: each with its key, and why it cannot be done now.

use super::does::order;
use super::{Binding, COMMANDS, Command, Needs, Reach, Row};
use crate::base::place::capital;
use crate::window::scene::Scene;

/// One thing to do.
pub struct Entry {
    pub group: &'static str,
    /// What it does, in words.
    pub says: String,
    /// Its keys.
    pub key: String,
    row: &'static Row,
    binding: &'static Binding,
}

/// Every command that can be chosen, in the order of the table; keys that do different things stand apart.
pub fn entries() -> Vec<Entry> {
    let of_row = |group: &'static str, row: &'static Row| {
        let stand_apart = row.keys.iter().any(|binding| binding.alone.is_some());
        let bindings = if stand_apart { row.keys } else { &row.keys[..1] };
        bindings.iter().map(move |binding| Entry {
            group,
            says: capital(binding.alone.unwrap_or(row.says)),
            key: if stand_apart { binding.stroke.to_string() } else { row.keys() },
            row,
            binding,
        })
    };
    let rows = COMMANDS.iter().flat_map(|&(group, rows)| rows.iter().map(move |row| (group, row)));
    let chosen = rows.filter(|(_, row)| row.reach != Reach::Itself && !row.is_alias());
    chosen.flat_map(|(group, row)| of_row(group, row)).collect()
}

impl Row {
    /// Whether it does what another row does, and is no second thing to choose.
    fn is_alias(&self) -> bool {
        matches!(self.command, Command::KeysBySign | Command::Commands)
    }
}

impl Entry {
    /// Whether every word of a search stands in it.
    pub fn has(&self, words: &[String]) -> bool {
        let text = format!("{} {} {} {}", self.says, self.row.says, self.group, self.key).to_lowercase();
        words.iter().all(|word| text.contains(word))
    }

    /// Why it cannot be done now, if it cannot.
    pub fn cannot(&self, scene: &Scene<'_>) -> Option<&'static str> {
        if scene.view.rehearses && !self.row.goes_on_in_rehearsal() {
            return Some("the running order is being played");
        }
        if !self.row.needs.are_met(scene) {
            return Some(lacking(self.row.needs));
        }
        let history = scene.work.history();
        let view = scene.view;
        match self.row.command {
            Command::Undo if history.done().is_empty() => Some("nothing to undo"),
            Command::Redo if history.undone().is_empty() => Some("nothing to redo"),
            Command::GiveUpExport if scene.export.is_none() => Some("no export is on its way"),
            Command::EveryOrder if view.conditions.is_empty() => Some("every order is shown already"),
            Command::Fold if view.wall_by.closed().is_none() => Some("no family and no look is open"),
            Command::Unfold if order(scene).is_none() => Some("press a family or a look on the wall first"),
            _ => None,
        }
    }

    /// Does it.
    pub fn carry_out(&self, scene: &mut Scene<'_>) {
        (self.binding.does)(scene);
    }
}

/// What there has to be first.
fn lacking(needs: Needs) -> &'static str {
    match needs {
        Needs::Nothing => "not now",
        Needs::Effect => "choose an effect on the path first",
        Needs::NamedScope => "the global scope keeps its name: choose a bundle, a level or a clip first",
        Needs::Row => "choose a bundle, a level or a clip of the structure first",
        Needs::Chain => "no effects here yet",
        Needs::Effects => "this chain has fewer than two effects",
        Needs::Order => "press an order on the wall first",
        Needs::Pair => "compare two pictures first",
        Needs::Answer => "press what was found first",
        Needs::Pin => "nothing is pinned",
        Needs::Second => "open the second window first",
        Needs::Lessons => "open the lessons first",
        Needs::Sections => "the show has no sections yet",
        Needs::Rehearsal => "play the running order first",
    }
}
