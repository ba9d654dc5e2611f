//! `--vary`: what of a chain is tried.

use super::super::WrongWords;
use super::super::named_order::effect_named;
use super::super::opened::Opened;
use super::super::subject::Subject;
use crate::base::place::{did_you_mean, listed, shortened};
use crate::catalogue::{Kind, Setting, Value};
use crate::explore::find;
use crate::explore::find::{Range, Space, Varied, decides_frames, may_be_tried};
use crate::show::Scope;
use crate::show::chain::{Chain, EffectUse, labels};

/// What is tried, and in which words.
pub(super) struct Varying {
    pub(super) space: Space,
    /// The chain as frames are planned for it: every effect on, and remembering as long as any candidate may.
    pub(super) planned: Chain,
    /// The scopes that it is tried on, by their addresses; of a chain file, none.
    pub(super) scopes: Vec<(Scope, String)>,
    /// "order", "tint.amount 0 to 1".
    pub(super) words: Vec<String>,
    /// The effects, as they are called.
    pub(super) labels: Vec<String>,
}

const ORDER: &str = "order";
const ON: &str = "on";
const SCOPE: &str = "scope";
const MAIN: &str = "main";
const ALL: &str = "all";
const WORDS: [&str; 5] = [ORDER, ON, MAIN, ALL, SCOPE];

/// Reads what is tried of a subject's chain.
pub(super) fn varying(words: &[String], subject: &Subject) -> Result<Varying, WrongWords> {
    let chain = &subject.path.chain;
    let labels = labels(chain);
    let mut reading = Reading { chain, labels: &labels, space: Space::of(chain), named: Vec::new() };
    let mut takes_scope = false;
    let usual = [ORDER.to_owned(), MAIN.to_owned()];
    let given = if words.is_empty() { &usual[..] } else { words };
    for word in given {
        match word.trim() {
            SCOPE => takes_scope = true,
            "" => {
                return Err(WrongWords(format!(
                    "--vary {}: a word is missing; name what is tried, such as {ORDER},{MAIN}",
                    given.join(",")
                )));
            }
            word => reading.take(word)?,
        }
    }
    let mut space = reading.space;
    // One effect has but one order.
    space.order &= chain.len() > 1;
    space.switches.sort_unstable();
    space.switches.dedup();
    space.settings.sort_by_key(|varied| (varied.place, varied.setting));
    let scopes = scopes(subject, takes_scope)?;
    space.scopes = scopes.len().max(1);
    if let Opened::Show { scope, .. } = &subject.opened {
        space.home = scopes.iter().position(|(known, _)| known == scope).unwrap_or(0);
    }
    if space.is_single() {
        return Err(nothing(words, chain));
    }
    let said = said(&space, &labels, scopes.len());
    Ok(Varying { planned: space.planned(), space, scopes, words: said, labels })
}

fn nothing(words: &[String], chain: &[EffectUse]) -> WrongWords {
    let why = match (chain.len(), words.is_empty()) {
        (0, _) => "the chain has no effect",
        (1, true) => "the chain has one effect, without a number that stands still",
        (_, true) => "the chain has no number that stands still, and one order",
        _ => "there is but one candidate",
    };
    let given = if words.is_empty() { String::new() } else { format!(" {}", words.join(",")) };
    WrongWords(format!(
        "--vary{given}: nothing is left to try, as {why}; name more of it, such as --vary all, or choose another --scope"
    ))
}

fn scopes(subject: &Subject, takes_scope: bool) -> Result<Vec<(Scope, String)>, WrongWords> {
    match &subject.opened {
        Opened::Chain { .. } if takes_scope => Err(WrongWords(format!(
            "--vary {SCOPE}: {} is a chain, and only a show has scopes that it could sit on; open a show, or leave it out",
            subject.name
        ))),
        Opened::Chain { .. } => Ok(Vec::new()),
        Opened::Show { show, scope } => {
            let tried = find::scopes(show, *scope, takes_scope).into_iter();
            Ok(tried.map(|scope| (scope, show.address(scope))).collect())
        }
    }
}

/// What is read so far.
struct Reading<'a> {
    chain: &'a [EffectUse],
    labels: &'a [String],
    space: Space,
    /// Settings that were named by themselves: they count more than `main` and `all`.
    named: Vec<(usize, usize)>,
}

impl Reading<'_> {
    fn take(&mut self, word: &str) -> Result<(), WrongWords> {
        match word {
            ORDER => self.space.order = true,
            ON => self.space.switches.extend(0..self.chain.len()),
            MAIN => {
                for place in 0..self.chain.len() {
                    let settings = &self.chain[place].effect.settings;
                    let is_number =
                        |setting: &Setting| matches!(setting.kind, Kind::Number { .. } | Kind::Whole { .. });
                    let main = settings.iter().position(is_number);
                    if let Some(main) = main.filter(|_| self.chain[place].on) {
                        self.take_unnamed(place, main);
                    }
                }
            }
            ALL => {
                self.space.order = true;
                self.space.switches.extend(0..self.chain.len());
                for place in 0..self.chain.len() {
                    for setting in 0..self.chain[place].effect.settings.len() {
                        self.take_unnamed(place, setting);
                    }
                }
            }
            word => return self.take_named(word),
        }
        Ok(())
    }

    /// A setting that is not named by itself, unless it moves or has to stay.
    fn take_unnamed(&mut self, place: usize, setting: usize) {
        let used = &self.chain[place];
        let declared = &used.effect.settings[setting];
        let is_known =
            self.space.settings.iter().any(|varied| (varied.place, varied.setting) == (place, setting));
        if !is_known && may_be_tried(used, setting) {
            let range = Range::whole(&declared.kind);
            self.space.settings.push(Varied { place, setting, range });
        }
    }

    /// NAME.on, NAME.SETTING or NAME.SETTING=LOW..HIGH.
    fn take_named(&mut self, word: &str) -> Result<(), WrongWords> {
        let wrong = |message: String| WrongWords(format!("--vary {}: {message}", shortened(word)));
        let (name, range) = match word.split_once('=') {
            Some((name, range)) => (name.trim(), Some(range.trim())),
            None => (word, None),
        };
        let Some((effect, setting)) = name.rsplit_once('.') else {
            let known = WORDS.into_iter().chain(self.labels.iter().map(String::as_str));
            let is_effect = self.labels.iter().any(|label| label == name);
            return Err(wrong(if is_effect {
                format!("which setting of it? write `{name}.SETTING`, with {}", self.settings_said(name))
            } else {
                format!(
                    "this is nothing that can be tried{} (there are {}, and NAME.SETTING, such as {})",
                    did_you_mean(name, known),
                    listed(WORDS),
                    self.example()
                )
            }));
        };
        let place = effect_named(effect.trim(), self.chain).map_err(&wrong)?;
        let used = &self.chain[place];
        if setting == ON {
            if range.is_some() {
                return Err(wrong("on or off are all that there is; leave the range out".to_owned()));
            }
            self.space.switches.push(place);
            return Ok(());
        }
        let settings = &used.effect.settings;
        let Some(nth) = settings.iter().position(|known| known.name == setting) else {
            let names = || settings.iter().map(|known| known.name.as_str()).chain([ON]);
            return Err(wrong(format!(
                "{} has no setting `{}`{} (it has {})",
                used.effect.name,
                shortened(setting),
                did_you_mean(setting, names()),
                listed(names())
            )));
        };
        let declared = &settings[nth];
        if decides_frames(used, setting) {
            return Err(wrong(format!(
                "`{setting}` decides which frames {} takes its picture from, and stays as it is while others are tried",
                used.effect.name
            )));
        }
        if self.named.contains(&(place, nth)) {
            return Err(wrong(format!("`{name}` is named twice; name each once")));
        }
        let range = match range {
            None => Range::whole(&declared.kind),
            Some(range) => ranged(declared, range).map_err(wrong)?,
        };
        self.named.push((place, nth));
        self.space.settings.retain(|varied| (varied.place, varied.setting) != (place, nth));
        self.space.settings.push(Varied { place, setting: nth, range });
        Ok(())
    }

    fn settings_said(&self, label: &str) -> String {
        let place = self.labels.iter().position(|known| known == label).unwrap_or(0);
        let settings = self.chain[place].effect.settings.iter().map(|setting| setting.name.as_str());
        listed(settings.chain([ON]))
    }

    /// A setting of the chain, as it is named here.
    fn example(&self) -> String {
        let of = |(used, label): (&EffectUse, &String)| {
            used.effect.settings.first().map(|setting| format!("{label}.{}", setting.name))
        };
        self.chain.iter().zip(self.labels).find_map(of).unwrap_or_else(|| "tint.amount".to_owned())
    }
}

/// LOW..HIGH, within what a setting allows.
fn ranged(setting: &Setting, range: &str) -> Result<Range, String> {
    let Setting { name, kind, .. } = setting;
    let allowed = kind.allowed();
    if !matches!(kind, Kind::Number { .. } | Kind::Whole { .. }) {
        return Err(format!("`{name}` takes {allowed}, which have no range; leave `=` and what follows out"));
    }
    let wrong = || {
        format!(
            "`{}` is no range; write two numbers, the lower first, such as {name}={}",
            shortened(range),
            match Range::whole(kind) {
                Range::Number { low, high } => format!("{low}..{high}"),
                Range::Whole { low, high } => format!("{low}..{high}"),
                Range::Colour | Range::Choice(_) => String::new(),
            }
        )
    };
    let (low, high) = range.split_once("..").ok_or_else(wrong)?;
    let end = |text: &str| -> Result<Value, String> {
        let number: f64 = text.trim().parse().map_err(|_| wrong())?;
        kind.number(number).map_err(|error| format!("`{name}` {error}"))
    };
    match (end(low)?, end(high)?) {
        (Value::Number(low), Value::Number(high)) if low < high => Ok(Range::Number { low, high }),
        (Value::Whole(low), Value::Whole(high)) if low < high => Ok(Range::Whole { low, high }),
        _ => Err(wrong()),
    }
}

fn said(space: &Space, labels: &[String], scopes: usize) -> Vec<String> {
    let mut said = Vec::new();
    if space.order {
        said.push(ORDER.to_owned());
    }
    said.extend(space.switches.iter().map(|&place| format!("{}.{ON}", labels[place])));
    for Varied { place, setting, range } in &space.settings {
        let name = format!("{}.{}", labels[*place], space.chain()[*place].effect.settings[*setting].name);
        said.push(match range {
            Range::Number { low, high } => format!("{name} {low} to {high}"),
            Range::Whole { low, high } => format!("{name} {low} to {high}"),
            Range::Colour | Range::Choice(_) => name,
        });
    }
    if scopes > 1 {
        said.push(SCOPE.to_owned());
    }
    said
}
