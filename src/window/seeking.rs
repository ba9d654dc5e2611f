//! What the person looks for, and what of a chain may change for it.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::catalogue::{Kind, Value};
use crate::explore::Goal;
use crate::explore::find;
use crate::explore::find::{Range, Space, Varied, may_be_tried};
use crate::order::{in_order, marks, write_marks};
use crate::show::chain::{Chain, EffectUse};
use crate::show::{Scope, Show};
use crate::window::showing::FoundRow;
use crate::window::threads::find::{FindQuestion, FoundChain};

/// What is looked for, and what may change. Effects are known by their marks, so that they are meant wherever they stand.
#[derive(Debug, Clone, PartialEq)]
pub struct Seeking {
    pub goal: Goal,
    /// The picture to come near, as it was written.
    pub like: String,
    /// Whether effects may change places.
    pub order: bool,
    /// Whether the chain may sit on other scopes too, over what stands there.
    pub scope: bool,
    /// Effects that may be on or off.
    pub switches: BTreeSet<u32>,
    /// Settings that may change, by their effect's mark and their own name.
    pub settings: BTreeSet<(u32, String)>,
    /// Of some of them, from what to what, where that is less than all that they allow.
    pub ranges: BTreeMap<(u32, String), [f64; 2]>,
}

/// What was found, as it is shown: it stays as it is while someone is about to press one of it.
#[derive(Debug, Clone, Default)]
pub struct FoundList {
    /// Which of the finder's lists it is.
    pub number: u64,
    pub answers: Vec<FoundSeen>,
    pub question: Option<Arc<FindQuestion>>,
}

/// One answer.
#[derive(Debug, Clone)]
pub struct FoundSeen {
    pub found: FoundChain,
    /// Its effects in their order.
    pub row: FoundRow,
    /// The show with it in place, if it still has its scope.
    pub show: Option<Arc<Show>>,
}

impl Default for Seeking {
    fn default() -> Self {
        Self {
            goal: Goal::Like,
            like: String::new(),
            order: true,
            scope: false,
            switches: BTreeSet::new(),
            settings: BTreeSet::new(),
            ranges: BTreeMap::new(),
        }
    }
}

/// What a panel asks of the search.
#[derive(Debug, Clone, PartialEq)]
pub enum FindAct {
    /// Looks for something else from the next search on.
    Change(Seeking),
    Begin,
    /// Ends with the best so far.
    Stop,
    /// Puts what was found into the show.
    Adopt(FoundRow),
}

impl Seeking {
    /// What of a show's chain is tried, and on which scopes; nothing where there is nothing to try, with the reason.
    pub fn space(&self, show: &Show, home: Scope) -> Result<(Space, Vec<Scope>), &'static str> {
        let chain = show.chain(home);
        let marks = marks(chain);
        let scopes = find::scopes(show, home, self.scope);
        let mut space = Space::of(chain);
        space.order = self.order && chain.len() > 1;
        space.scopes = scopes.len();
        space.home = scopes.iter().position(|&scope| scope == home).unwrap_or(0);
        space.switches = (0..chain.len()).filter(|&place| self.switches.contains(&marks.of(place))).collect();
        for (place, used) in chain.iter().enumerate() {
            for (setting, declared) in used.effect.settings.iter().enumerate() {
                let key = (marks.of(place), declared.name.clone());
                if self.settings.contains(&key) && may_be_tried(used, setting) {
                    let range =
                        self.range(&key, &declared.kind).ok_or("A range ends above where it begins.")?;
                    space.settings.push(Varied { place, setting, range });
                }
            }
        }
        if self.goal == Goal::Like && self.like.trim().is_empty() {
            return Err("Name the picture to come near, or drop it onto the window.");
        }
        if space.is_single() {
            return Err("Tick something that may change: the order, an effect on or off, or a setting.");
        }
        Ok((space, scopes))
    }

    /// What a setting is tried at; nothing of a range without numbers in it.
    fn range(&self, key: &(u32, String), kind: &Kind) -> Option<Range> {
        let whole = Range::whole(kind);
        let Some(&[low, high]) = self.ranges.get(key) else { return Some(whole) };
        match whole {
            Range::Number { .. } => (low < high).then_some(Range::Number { low, high }),
            Range::Whole { .. } => {
                (low < high).then_some(Range::Whole { low: low as i64, high: high as i64 })
            }
            range => Some(range),
        }
    }

    /// The picture to come near, where that is the goal.
    pub fn picture_wished(&self) -> Option<&str> {
        (self.goal == Goal::Like).then(|| self.like.trim())
    }

    /// With every setting of a chain that may be tried, or with none.
    pub fn with_settings(&self, chain: &[EffectUse], every: bool) -> Self {
        let marks = marks(chain);
        let of = |(place, used): (usize, &EffectUse)| {
            let free =
                (0..used.effect.settings.len()).filter(|&setting| every && may_be_tried(used, setting));
            let name = |setting: usize| (marks.of(place), used.effect.settings[setting].name.clone());
            free.map(name).collect::<Vec<_>>()
        };
        Self { settings: chain.iter().enumerate().flat_map(of).collect(), ..self.clone() }
    }
}

impl FoundChain {
    /// Its effects in their order, each with the mark that it has in the chain.
    pub fn arranged(&self) -> Chain {
        let mut chain = self.chain.clone();
        write_marks(&mut chain);
        in_order(&chain, &self.order)
    }

    /// What is other than in a chain of the same effects in the same places: "Amount of tint 0.6 \u{2192} 0.82", "mirror off".
    pub fn changes_said(&self, chain: &[EffectUse], labels: &[String]) -> Vec<String> {
        let mut said = Vec::new();
        for ((now, found), label) in chain.iter().zip(&self.chain).zip(labels) {
            if now.on != found.on {
                said.push(format!("{label} {}", if found.on { "on" } else { "off" }));
            }
            let values = now.values().zip(found.values());
            for (declared, (before, after)) in now.effect.settings.iter().zip(values) {
                if before != after {
                    let written = |value: &Value| declared.kind.written(value).trim_matches('"').to_owned();
                    let (before, after) = (written(before), written(after));
                    said.push(format!("{label} {} {before} \u{2192} {after}", declared.name));
                }
            }
        }
        said
    }
}

/// "near a picture", "most edges".
pub fn goal_said(goal: Goal) -> String {
    match goal {
        Goal::Like => "near a picture".to_owned(),
        goal => goal.name().replace('-', " "),
    }
}
