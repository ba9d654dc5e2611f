//! Changes after which a show passes, each rendered and counted.

use super::played::fires;
use super::{
    Doing, Flashing, Played, Until, Way, can_flash, count, flashing_under, held_said, ways_together,
};
use crate::catalogue::{Kind, Setting, Value};
use crate::edit::{Edit, Spot, TimeEdit};
use crate::footage::Shelf;
use crate::gpu::{RenderError, Renderer};
use crate::measure::FlashReport;
use crate::order::MOST_EFFECTS;
use crate::show::automation::{Automation, between};
use crate::show::chain::{EffectUse, labels, one_after_another};
use crate::show::control::{Control, ControlKind, Grip};
use crate::show::{Scope, Show, Target};

/// Steps in which a setting is lowered, as shares of what it is.
const WEAKER: [f64; 7] = [0.75, 0.5, 0.35, 0.25, 0.15, 0.1, 0.05];
/// Rates that can be played to, in times a beat: none is slower than once in eight beats.
const RATES: [f64; 9] = [6.0, 4.0, 3.0, 2.0, 1.5, 1.0, 0.5, 0.25, 0.125];
/// The most other places in its chain that are tried for one effect.
const MOST_PLACES: usize = MOST_EFFECTS - 1;

/// A change after which the output passes: as it stands, and with the controls played that were too many.
#[derive(Debug, Clone)]
pub struct Suggestion {
    /// What kind of change it is: "slower", "weaker", "another order", "a smaller area", "without hands".
    pub kind: &'static str,
    /// What to do, in words.
    pub text: String,
    /// The change.
    pub edit: Edit,
    /// What was counted with it: of several countings, the one with the most changes.
    pub report: FlashReport,
}

/// Changes of what flashes after which the output passes: for each effect and each kind of change, the least
/// that does; none where all is well, or where the footage is past a limit by itself. `tell` is told of each
/// change that is tried, and says whether to go on.
///
/// # Errors
/// [`RenderError`] where footage or the GPU fails.
pub fn suggestions(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    show: &Show,
    found: &Flashing,
    mut tell: impl FnMut(&Doing<'_>) -> bool,
) -> Result<Vec<Suggestion>, RenderError> {
    let mut suggested = Vec::new();
    if found.passes() || found.is_footage() {
        return Ok(suggested);
    }
    let failing: Vec<&Played> = found.failing().map(|(played, _)| played).collect();
    let spots = flashing_under(show, &found.watch, failing.iter().copied(), &failing, !found.own.passes());
    let controls: Vec<&str> = failing.iter().flat_map(|played| played.controls()).collect();
    let of_effects = spots.into_iter().map(|spot| candidates(show, spot, &controls));
    let held = found.held(show);
    let of_held = held.iter().filter_map(|(target, control)| of_held(show, *target, control));
    let kinds: Vec<Kinds> = of_effects.chain(of_held).collect();
    let total = kinds.iter().flatten().map(|(_, candidates)| candidates.len()).sum();
    let mut done = 0;
    for (kind, candidates) in kinds.into_iter().flatten() {
        let after = done + candidates.len();
        for (text, edit) in candidates {
            let what = format!("trying {text}");
            let mut goes_on = tell(&Doing { what: &what, unit: "changes", done, total });
            done += 1;
            let Ok((changed, _)) = edit.applied(show) else { continue };
            let ways: Vec<Way<'_>> = [None]
                .into_iter()
                .chain(failing.iter().copied().map(Some))
                .map(|played| Way::of(&changed, played))
                .collect();
            let mut reports = Vec::with_capacity(ways.len());
            for ways in ways.chunks(ways_together(&changed, &found.watch)) {
                if !goes_on {
                    return Ok(suggested);
                }
                reports.extend(count(renderer, shelf, ways, &found.watch, Until::TooMany, |_| {
                    goes_on = tell(&Doing { what: &what, unit: "changes", done: done - 1, total });
                    goes_on
                })?);
                if !reports.iter().all(FlashReport::passes) {
                    break;
                }
            }
            if !goes_on {
                return Ok(suggested);
            }
            if reports.iter().all(FlashReport::passes)
                && let Some(report) = reports.into_iter().reduce(worse)
            {
                suggested.push(Suggestion { kind, text, edit, report });
                break;
            }
        }
        done = after;
    }
    Ok(suggested)
}

/// The one with more changes, or else the first.
fn worse(first: FlashReport, second: FlashReport) -> FlashReport {
    if second.worst().changes > first.worst().changes { second } else { first }
}

/// Changes by kind, the least first in each.
type Kinds = Vec<(&'static str, Vec<(String, Edit)>)>;

/// Changes of one effect that are worth trying, where these controls are played too much.
fn candidates(show: &Show, spot: Spot, controls: &[&str]) -> Kinds {
    let used = &show.chain(spot.scope)[spot.at];
    let label = &labels(show.chain(spot.scope))[spot.at];
    let address = show.address(spot.scope);
    let places = |is_meant: &dyn Fn(&Setting) -> bool| -> Vec<usize> {
        let settings = used.effect.settings.iter().enumerate();
        settings.filter(|(_, setting)| is_meant(setting)).map(|(place, _)| place).collect()
    };
    let is_rate =
        |setting: &Setting| matches!(&setting.kind, Kind::Number { unit, .. } if unit == "per beat");
    let fades_out =
        |setting: &Setting| used.effect.idle.iter().any(|idle| idle.member == setting.name && idle.is == 0.0);
    let slower = places(&is_rate).into_iter().flat_map(|place| {
        let slower = move |now: f64| RATES.into_iter().filter(move |&rate| rate < now).collect();
        lowered(show, used, spot, place, slower)
    });
    let weaker = places(&|setting| fades_out(setting) && !is_rate(setting)).into_iter().flat_map(|place| {
        let kind = &used.effect.settings[place].kind;
        let weaker = move |now: f64| WEAKER.into_iter().map(|share| rounded(kind, now * share)).collect();
        lowered(show, used, spot, place, weaker)
    });
    let at = |place: usize| Tried { show, used, spot, place, controls };
    let held = places(&|setting| !fades_out(setting) && !is_rate(setting)).into_iter();
    let narrower = held.flat_map(|place| at(place).narrowed());
    let softer = (0..used.effect.settings.len()).flat_map(|place| at(place).softened());
    let (weaker, held): (Vec<_>, Vec<_>) = (weaker.collect(), narrower.chain(softer).collect());
    // What flashes by the hand only is tamed where the hand holds it.
    let weaker = if can_flash(used) { [weaker, held] } else { [held, weaker] }.concat();
    let effects = show.chain(spot.scope).len();
    // Over everything first: what lies over a flash can tame it.
    let gaps = (0..=effects).filter(|&gap| gap != spot.at && gap != spot.at + 1).take(MOST_PLACES);
    let orders = gaps.map(|at| {
        let edit = Edit::Move { from: spot, into: Spot { at, ..spot } };
        let chain = edit.applied(show).map(|(show, _)| labels(show.chain(spot.scope))).unwrap_or_default();
        (format!("on {address}: {}", one_after_another(chain.iter().map(String::as_str))), edit)
    });
    let smaller = within(show, spot.scope).into_iter().map(|scope| {
        let edit = Edit::Move { from: spot, into: Spot { scope, at: show.chain(scope).len() } };
        (format!("{label} on {} instead of {address}", show.address(scope)), edit)
    });
    let switch = Target::Switch { scope: spot.scope, at: spot.at };
    let switched = used.switch_grip().filter(|grip| controls.contains(&grip.control.as_str()));
    let switched = switched.map(|grip| let_go(&format!("{label} on {address}"), switch, &grip.control));
    vec![
        ("without hands", switched.into_iter().collect()),
        ("slower", slower.collect()),
        ("weaker", weaker),
        ("another order", orders.collect()),
        ("a smaller area", smaller.collect()),
    ]
}

/// Changes of what a control moves that is no effect: the control moves it less far, or no longer.
fn of_held(show: &Show, target: Target, control: &str) -> Option<Kinds> {
    let kind = show.target_kind(target)?;
    let grip = show.grips_on(target).into_iter().find(|grip| grip.control == control)?;
    let said = held_said(show, target);
    let nearer = match (&kind, show.target_value(target)) {
        (Kind::Number { .. }, Some(own)) => {
            let rest = if is_turned(show, control) { &grip.low } else { &own };
            narrowed(&kind, grip, rest)
        }
        // Of words there is nothing between.
        _ => Vec::new(),
    };
    let nearer = nearer.into_iter().map(|near| {
        let text = narrowed_said(&said, grip, &near);
        (text, Edit::Time(TimeEdit::Hold { target, grip: Box::new(near) }))
    });
    Some(vec![("weaker", nearer.collect()), ("without hands", vec![let_go(&said, target, control)])])
}

/// Has a control let go of something.
fn let_go(said: &str, target: Target, control: &str) -> (String, Edit) {
    let edit = TimeEdit::LetGo { target, control: control.to_owned() };
    (format!("{said} no longer moved by \"{control}\""), Edit::Time(edit))
}

fn is_turned(show: &Show, control: &str) -> bool {
    let is_it = |one: &&Control| one.name == control;
    show.controls.iter().find(is_it).is_some_and(|control| control.kind == ControlKind::Continuous)
}

/// What a control holds brought nearer to where it rests, by steps.
fn narrowed(kind: &Kind, grip: &Grip, rest: &Value) -> Vec<Grip> {
    let nearer = |to: &Value, share: f64| shown(kind, between(kind, rest, to, share));
    let all = WEAKER.into_iter().map(|share| Grip {
        low: nearer(&grip.low, share),
        high: nearer(&grip.high, share),
        ..grip.clone()
    });
    all.filter(|near| near != grip).collect()
}

/// "opacity of level:picture/sea from 0.5 to 1 by "Horn" instead of 0 to 1".
fn narrowed_said(what: &str, grip: &Grip, near: &Grip) -> String {
    format!(
        "{what} from {} to {} by \"{}\" instead of {} to {}",
        near.low, near.high, grip.control, grip.low, grip.high
    )
}

/// A number as fine as its setting shows it: a hundredth of its range, or finer by a power of ten.
fn rounded(kind: &Kind, number: f64) -> f64 {
    let Kind::Number { range: [low, high], .. } = kind else { return number.round() };
    let places = (2.0 - (high - low).log10().floor()).clamp(0.0, 4.0);
    let number = format!("{number:.0$}", places as usize);
    number.parse().unwrap_or(*low)
}

/// One setting that is tried at other values, where these controls are played too much.
#[derive(Clone, Copy)]
struct Tried<'a> {
    show: &'a Show,
    used: &'a EffectUse,
    spot: Spot,
    place: usize,
    controls: &'a [&'a str],
}

impl Tried<'_> {
    /// "flash-gate on global: Strength", and what is done with it.
    fn setting_said(self, what: &str) -> String {
        let label = &labels(self.show.chain(self.spot.scope))[self.spot.at];
        let setting = &self.used.effect.settings[self.place].label;
        let said = format!("{label} on {}: {setting} {what}", self.show.address(self.spot.scope));
        said.trim_end().to_owned()
    }

    /// What a control holds of it, brought nearer to where it stands without the control.
    fn narrowed(self) -> Vec<(String, Edit)> {
        let Self { show, used, spot, place, controls } = self;
        let Some(grip) = used.grip(place).filter(|grip| controls.contains(&grip.control.as_str())) else {
            return Vec::new();
        };
        let setting = &used.effect.settings[place];
        let rest = match used.value(&setting.name) {
            Some(own) if !is_turned(show, &grip.control) && used.automation(place).is_none() => own,
            _ => &grip.low,
        };
        narrowed(&setting.kind, grip, rest)
            .into_iter()
            .map(|near| {
                let text = narrowed_said(&self.setting_said(""), grip, &near);
                let target = Target::Setting { scope: spot.scope, at: spot.at, place };
                let hold = TimeEdit::Hold { target, grip: Box::new(near) };
                (text, Edit::Time(hold))
            })
            .collect()
    }

    /// What moves it with the beat, or fires it, reaching less far from its low end.
    fn softened(self) -> Vec<(String, Edit)> {
        let Self { used, spot, place, controls, .. } = self;
        let Some(automation) = used.automation(place) else { return Vec::new() };
        let by = controls.iter().find(|control| fires(used, place, control));
        let by = by.map(|control| format!(" by \"{control}\"")).unwrap_or_default();
        let (Automation::Envelope { low, high, .. }
        | Automation::Wave { low, high, .. }
        | Automation::Random { low, high, .. }) = automation
        else {
            return Vec::new();
        };
        let kind = &used.effect.settings[place].kind;
        let nearer = WEAKER.into_iter().map(|share| shown(kind, between(kind, low, high, share)));
        nearer
            .filter(|near| near != high)
            .map(|near| {
                let text = self.setting_said(&format!("as far as {near}{by} instead of {high}"));
                let mut softer = automation.clone();
                if let Automation::Envelope { high, .. }
                | Automation::Wave { high, .. }
                | Automation::Random { high, .. } = &mut softer
                {
                    *high = near;
                }
                let automate =
                    TimeEdit::Automate { spot, setting: place, automation: Some(Box::new(softer)) };
                (text, Edit::Time(automate))
            })
            .collect()
    }
}

/// A value as fine as its setting shows it.
fn shown(kind: &Kind, value: Value) -> Value {
    match value {
        Value::Number(number) => Value::Number(rounded(kind, number)),
        other => other,
    }
}

/// One number setting brought down: its own value where it stands, and the worse end of what a control holds
/// of it.
fn lowered(
    show: &Show,
    used: &EffectUse,
    spot: Spot,
    place: usize,
    lower: impl Fn(f64) -> Vec<f64>,
) -> Vec<(String, Edit)> {
    let setting = &used.effect.settings[place];
    let label = &labels(show.chain(spot.scope))[spot.at];
    let number = |value: &Value| match value {
        Value::Number(number) => Some(*number),
        _ => None,
    };
    let mut all = Vec::new();
    let own = used.value(&setting.name).filter(|_| used.automation(place).is_none()).and_then(number);
    if let Some(now) = own {
        for number in lower(now) {
            let Ok(value) = setting.kind.number(number) else { continue };
            if number >= now {
                continue;
            }
            let text = format!(
                "{label} on {}: {} {number} instead of {now}",
                show.address(spot.scope),
                setting.label
            );
            all.push((text, Edit::Set { spot, setting: place, value }));
        }
    }
    let Some(grip) = used.grip(place) else { return all };
    let (Some(low), Some(high)) = (number(&grip.low), number(&grip.high)) else { return all };
    let now = low.max(high);
    for number in lower(now) {
        let Ok(value) = setting.kind.number(number) else { continue };
        if number >= now {
            continue;
        }
        // Both ends come down to it at least.
        let brought = |end: &Value, was: f64| if was > number { value.clone() } else { end.clone() };
        let grip = Grip { low: brought(&grip.low, low), high: brought(&grip.high, high), ..grip.clone() };
        let text = format!(
            "{label} on {}: {} at most {number} by \"{}\" instead of {now}",
            show.address(spot.scope),
            setting.label,
            grip.control
        );
        let target = Target::Setting { scope: spot.scope, at: spot.at, place };
        let hold = TimeEdit::Hold { target, grip: Box::new(grip) };
        all.push((text, Edit::Time(hold)));
    }
    all
}

/// The scopes directly inside a scope, those that show.
fn within(show: &Show, scope: Scope) -> Vec<Scope> {
    let mut scopes: Vec<Scope> = match scope {
        Scope::Global => (0..show.bundles.len()).map(Scope::Bundle).collect(),
        Scope::Bundle(b) => (0..show.bundles[b].levels.len()).map(|l| Scope::Level(b, l)).collect(),
        Scope::Level(..) | Scope::Clip(..) => Vec::new(),
    };
    scopes.retain(|&scope| show.shows(scope));
    scopes
}
