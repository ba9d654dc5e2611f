//! The settings of the selected effect, or of the selected scope.

mod automation;
mod live;
mod play;

use egui::{Rect, RichText, ScrollArea, Sense, TextStyle, Ui, UiBuilder, pos2, vec2};

use crate::base::shown::shown;
use crate::catalogue::{Kind, Setting, Value};
use crate::edit::{ClipEdit, Edit, Named, Spot};
use crate::order::marks;
use crate::readiness::caution;
use crate::show::chain::EffectUse;
use crate::show::clip::Fit;
use crate::show::{ClipPlace, Scope, Target};
use crate::window::action::{Action, Dialog};
use crate::window::keys::Command;
use crate::window::scene::Scene;
use crate::window::theme::palette;
use crate::window::widgets::colour::colour_button;
use crate::window::widgets::fields::{NumberField, colour_field, is_pressed_twice, numbers_of};
use crate::window::widgets::held::held_by;
use crate::window::widgets::mix::mix_controls;
use crate::window::widgets::parts::stripe_before;
use crate::window::widgets::reach::part;
use crate::window::widgets::short::short_label;
use crate::window::widgets::values::slider;
use crate::window::widgets::{announce, chip, labels, name, sign_button};

/// The least width of a block, in points, and the space between two.
const BLOCK: f32 = 190.0;
const SPACE: f32 = 14.0;

/// A block of the panel: what is set together.
#[derive(Clone, Copy)]
enum Block {
    /// What is selected, and what can be done with it.
    Head,
    /// A setting of the selected effect, by its place.
    Setting(usize),
    /// How what the selected scope gives is laid over what is below it.
    Mix,
    /// How the selected clip's footage is played.
    Play,
    /// The show's own.
    Show,
}

/// Draws the settings of what is selected, in blocks side by side.
pub fn show(ui: &mut Ui, scene: &mut Scene<'_>) {
    ScrollArea::vertical().id_salt("settings").auto_shrink([false; 2]).show(ui, |ui| {
        let spot = scene.view.spot();
        let settings = spot.and_then(|spot| scene.show().chain(spot.scope).get(spot.at));
        let settings = settings.map_or(0, |used| used.effect.settings.len());
        let own = match (spot, scene.view.scope) {
            (Some(_), _) | (None, Scope::Global) => None,
            (None, Scope::Bundle(_) | Scope::Level(..)) => Some(Block::Mix),
            (None, Scope::Clip(..)) => Some(Block::Play),
        };
        let own = own.into_iter().chain((0..settings).map(Block::Setting));
        let blocks = [Block::Head].into_iter().chain(own).chain([Block::Show]);
        side_by_side(ui, &blocks.collect::<Vec<_>>(), |ui, block| {
            let used = spot.and_then(|spot| scene.show().chain(spot.scope).get(spot.at)).cloned();
            let called = match (block, &used) {
                (Block::Head | Block::Setting(_), None) | (Block::Head, _) => "Settings".to_owned(),
                (Block::Setting(place), Some(used)) => {
                    format!("Setting {}", used.effect.settings[place].label)
                }
                (Block::Mix, _) => "How it is laid".to_owned(),
                (Block::Play, _) => "How it plays".to_owned(),
                (Block::Show, _) => "The show".to_owned(),
            };
            part(ui, scene, &called, |ui, scene| match (block, spot.zip(used.as_ref())) {
                (Block::Head, Some((spot, _))) => head(ui, scene, spot),
                (Block::Head, None) => scope_settings(ui, scene, scene.view.scope),
                (Block::Setting(place), Some((spot, used))) => one_setting(ui, scene, spot, place, used),
                (Block::Setting(_), None) => {}
                (Block::Mix, _) => mix(ui, scene),
                (Block::Play, _) => play(ui, scene),
                (Block::Show, _) => show_settings(ui, scene),
            });
        });
    });
}

/// Blocks in as many columns as the room has, all of one width: nothing in a block moves another to the side.
fn side_by_side(ui: &mut Ui, blocks: &[Block], mut add: impl FnMut(&mut Ui, Block)) {
    let room = ui.available_rect_before_wrap();
    let columns = ((room.width() + SPACE) / (BLOCK + SPACE)).floor().max(1.0) as usize;
    let columns = columns.min(blocks.len().max(1));
    let width = ((room.width() + SPACE) / columns as f32 - SPACE).min(BLOCK * 1.7);
    let mut top = room.top();
    for (nth, row) in blocks.chunks(columns).enumerate() {
        let mut bottom = top;
        for (column, &block) in row.iter().enumerate() {
            let at = pos2(room.left() + column as f32 * (width + SPACE), top);
            let place = Rect::from_min_size(at, vec2(width, f32::INFINITY));
            let mut inside = ui.new_child(UiBuilder::new().id_salt((nth, column)).max_rect(place));
            // What has the keyboard is outlined.
            inside.shrink_clip_rect(place.expand(3.0));
            inside.spacing_mut().slider_width = (width - 172.0).clamp(40.0, 160.0);
            add(&mut inside, block);
            bottom = inside.min_rect().bottom().max(bottom);
        }
        let used = Rect::from_min_max(pos2(room.left(), top), pos2(room.right(), bottom));
        ui.advance_cursor_after_rect(used);
        top = bottom + SPACE * 0.7;
    }
}

/// The effect itself.
fn head(ui: &mut Ui, scene: &mut Scene<'_>, spot: Spot) {
    let chain = scene.stand.chain(spot.scope);
    let Some(used) = chain.get(spot.at).cloned() else { return };
    let (label, mark) = (labels(chain).swap_remove(spot.at), marks(chain).of(spot.at));
    ui.horizontal(|ui| {
        chip(ui, mark, 18.0);
        short_label(ui, &label, TextStyle::Heading, palette(ui.ctx()).plain);
    });
    // Before what is said of it, which is as long as it is: in a low window these are seen, too.
    ui.horizontal_wrapped(|ui| {
        let text = if used.on { "Switch off" } else { "Switch on" };
        if ui.button(text).on_hover_text(Command::Switch.key()).clicked() {
            scene.act(Action::Edit(Edit::Switch { spot, on: !used.on }));
        }
        if ui
            .button("Rename")
            .on_hover_text(format!("Call it something else ({})", Command::Rename.key()))
            .clicked()
        {
            scene.act(Action::Ask(Dialog::Rename(Named::Effect(spot))));
        }
        if ui
            .button("Reset")
            .on_hover_text(format!("Every setting to its default ({})", Command::Reset.key()))
            .clicked()
        {
            scene.act(Action::Edit(Edit::Reset(spot)));
        }
        if ui.button("Remove").on_hover_text(Command::Remove.key()).clicked() {
            scene.act(Action::Edit(Edit::Remove(spot)));
        }
    });
    let more = scene.view.also.len();
    if more > 0 {
        let plural = if more == 1 { "effect is" } else { "effects are" };
        ui.small(format!("{more} more {plural} selected: copy, cut, remove and switch take all of them."));
    }
    match &used.name {
        Some(_) => ui.weak(format!("{}: {}", used.effect.name, used.effect.summary)),
        None => ui.weak(&used.effect.summary),
    };
    if caution::of_chain(std::slice::from_ref(&used)).is_some() {
        ui.small(
            RichText::new("Makes flashing light: held still until you play.").color(palette(ui.ctx()).bright),
        );
    }
    if !scene.show().controls.is_empty() {
        ui.horizontal_wrapped(|ui| {
            ui.small("on or off");
            held_by(ui, scene, Target::Switch { scope: spot.scope, at: spot.at }, "On or off");
        });
    }
}

/// One setting: its name, its value, and what moves it.
fn one_setting(ui: &mut Ui, scene: &mut Scene<'_>, spot: Spot, place: usize, used: &EffectUse) {
    let setting = &used.effect.settings[place];
    let Some(value) = used.values().nth(place) else { return };
    let set = |value| Action::Edit(Edit::Set { spot, setting: place, value });
    let live = live::Live::of(scene, spot, place, used);
    ui.horizontal(|ui| {
        let label = RichText::new(&setting.label).color(palette(ui.ctx()).bright);
        // The number beside it is what the keyboard reaches.
        let label = ui.add(egui::Label::new(label).sense(Sense::CLICK)).accessible_name(&setting.label);
        if *value == setting.default || live.is_some() {
            return;
        }
        let default = setting.kind.said(&setting.default);
        let name = format!("Reset {}", setting.label);
        if sign_button(ui, "reset", &name, &format!("Back to {default}")).clicked()
            || is_pressed_twice(ui, &label)
        {
            scene.act(set(setting.default.clone()));
            scene.act(Action::EndRun);
        }
        label.on_hover_text(format!("Pressed twice: back to {default}"));
    });
    match live {
        Some(live) => {
            if let Some(stands) = live.show(ui, scene, setting) {
                scene.act(set(stands));
                scene.act(Action::EndRun);
            }
        }
        None => {
            let changed = ui.name_inputs(&setting.label, |ui| control(ui, setting, value));
            if changed.begins {
                scene.act(Action::EndRun);
            }
            if let Some(new) = changed.value.filter(|new| new != value) {
                scene.act(set(new));
            }
            if changed.ends {
                scene.act(Action::EndRun);
            }
        }
    }
    automation::editor(ui, scene, spot, place, used);
    ui.small(RichText::new(&setting.help).color(palette(ui.ctx()).quiet));
}

/// What a control asks for, and of which run of changes that is.
#[derive(Default)]
struct Changed {
    value: Option<Value>,
    /// Whether it is the first of a run.
    begins: bool,
    /// Whether it is the last.
    ends: bool,
}

/// A control for one setting.
fn control(ui: &mut Ui, setting: &Setting, value: &Value) -> Changed {
    match (&setting.kind, value) {
        (Kind::Number { .. } | Kind::Whole { .. }, value) => number(ui, setting, value).unwrap_or_default(),
        (Kind::Colour, Value::Colour(colour)) => {
            let mut new = *colour;
            let (mut begins, mut ends) = (false, false);
            ui.horizontal(|ui| {
                let (swatch, is_chosen) = colour_button(ui, &setting.label, &mut new);
                ends = is_chosen;
                if let Some(typed) = colour_field(ui, &format!("{} as #rrggbb", setting.label), new) {
                    (new, begins, ends) = (typed, true, true);
                }
                if is_pressed_twice(ui, &swatch)
                    && let Value::Colour(default) = setting.default
                {
                    (new, begins, ends) = (default, true, true);
                }
            });
            Changed { value: Some(Value::Colour(new)), begins, ends }
        }
        (Kind::Choice(words), Value::Choice(chosen)) => {
            let mut new = None;
            let combo = egui::ComboBox::from_id_salt("choice").selected_text(&words[*chosen]).width(180.0);
            let shown = combo.show_ui(ui, |ui| {
                for (place, word) in words.iter().enumerate() {
                    if ui.selectable_label(place == *chosen, word).clicked() {
                        new = Some(Value::Choice(place));
                    }
                }
            });
            announce(&shown.response, &format!("{}: {}", setting.label, words[*chosen]), None);
            Changed { ends: new.is_some(), begins: new.is_some(), value: new }
        }
        _ => Changed::default(),
    }
}

fn number(ui: &mut Ui, setting: &Setting, value: &Value) -> Option<Changed> {
    let (unit, range, is_whole) = numbers_of(&setting.kind)?;
    let [low, high] = range;
    let mut number = value.as_number()?;
    let default = setting.default.as_number();
    let back = default.unwrap_or(number);
    let (mut begins, mut ends) = (false, false);
    ui.horizontal_wrapped(|ui| {
        ends = slider(ui, &mut number, range, is_whole, back);
        let field = NumberField::new(&setting.label, unit, range);
        let speed = if is_whole { 0.1 } else { (high - low) / 1000.0 };
        begins = NumberField { is_whole, default, speed, ..field }.show(ui, &mut number).is_over;
        if !is_whole && let Some(step) = fine_steps(ui, &setting.label, (high - low) / 200.0) {
            number = (number + step).clamp(low, high);
        }
    });
    let new = if is_whole { Value::Whole(number as i64) } else { Value::Number(number) };
    Some(Changed { value: Some(new), begins, ends: begins || ends })
}

/// Two small buttons that change a number by little.
fn fine_steps(ui: &mut Ui, label: &str, step: f64) -> Option<f64> {
    // Whole hundredths or thousandths read better than a two-hundredth of the range.
    let step = 10_f64.powf(step.log10().round());
    ui.spacing_mut().item_spacing.x = 3.0;
    let less = sign_button(ui, "−", &format!("{label}: less"), &format!("Less by {step}")).clicked();
    let more = sign_button(ui, "+", &format!("{label}: more"), &format!("More by {step}")).clicked();
    match (less, more) {
        (true, _) => Some(-step),
        (_, true) => Some(step),
        _ => None,
    }
}

fn scope_settings(ui: &mut Ui, scene: &mut Scene<'_>, scope: Scope) {
    let show = scene.work.show().clone();
    ui.horizontal(|ui| {
        stripe_before(ui, show.colour(scope), 18.0);
        short_label(ui, &scene.address(scope), TextStyle::Heading, palette(ui.ctx()).plain);
    });
    if scope != Scope::Global && ui.button("Rename").on_hover_text(Command::RenameScope.key()).clicked() {
        scene.act(Action::Ask(Dialog::Rename(Named::Scope(scope))));
    }
    ui.add_space(4.0);
    match scope {
        Scope::Global => {
            ui.weak("Its chain acts on everything.");
        }
        Scope::Bundle(_) => {
            ui.weak("Levels kept together, so that a chain can act on them and spare the rest.");
        }
        Scope::Level(..) => {
            ui.weak("One layer of its bundle; its chain acts on whichever clip shows.");
        }
        Scope::Clip(bundle, level, clip) => {
            let place = ClipPlace { bundle, level, clip };
            let clip = &show.bundles[bundle].levels[level].clips[clip];
            ui.weak("One piece of footage; its chain acts on it alone.");
            ui.horizontal_wrapped(|ui| {
                ui.label("footage");
                short_label(ui, &name(&clip.footage.to_string()), TextStyle::Body, palette(ui.ctx()).bright);
            });
            if ui.button("Other footage \u{2026}").on_hover_text(Command::Footage.key()).clicked() {
                scene.act(Action::Ask(Dialog::Footage(place)));
            }
            ui.horizontal_wrapped(|ui| {
                ui.label("size in frame");
                for fit in Fit::ALL {
                    let chosen = clip.fit == fit;
                    if ui.selectable_label(chosen, fit.name()).on_hover_text(fit_said(fit)).clicked() {
                        scene.act(Action::Edit(Edit::Clip(place, ClipEdit::Fit(fit))));
                    }
                }
            });
        }
    }
    if show.chain(scope).is_empty() {
        ui.add_space(4.0);
        ui.weak("No effects here yet.");
        if ui.button("Add an effect").on_hover_text(Command::Add.key()).clicked() {
            scene.act(Action::Ask(Dialog::Add(Spot { scope, at: 0 })));
        }
    }
}

/// How the scope is laid over what is below it.
fn mix(ui: &mut Ui, scene: &mut Scene<'_>) {
    let scope = scene.view.scope;
    let mix = match scope {
        Scope::Bundle(b) => scene.stand.bundles[b].mix,
        Scope::Level(b, l) => scene.stand.bundles[b].levels[l].mix,
        Scope::Global | Scope::Clip(..) => return,
    };
    mix_controls(ui, scene, scope, mix);
}

/// How the clip's footage is played.
fn play(ui: &mut Ui, scene: &mut Scene<'_>) {
    let Scope::Clip(bundle, level, clip) = scene.view.scope else { return };
    let place = ClipPlace { bundle, level, clip };
    let clip = scene.show().bundles[bundle].levels[level].clips[clip].clone();
    play::controls(ui, scene, place, &clip);
}

/// How footage of another size is placed in the frame, in words.
fn fit_said(fit: Fit) -> &'static str {
    match fit {
        Fit::Whole => "It covers the whole frame; what is over is cut off",
        Fit::Contained => "All of it is contained in the frame; the rest is transparent",
        Fit::Stretched => "Both its sides are stretched to the frame's, and proportions are lost",
        Fit::Centred => "Pixel for pixel, centred in the frame",
    }
}

fn show_settings(ui: &mut Ui, scene: &mut Scene<'_>) {
    let show = scene.work.show().clone();
    ui.horizontal_wrapped(|ui| {
        ui.label("frame");
        let pixels = format!("Between two effects pictures are {}", show.pixels.name());
        ui.weak(format!("{}, {} a second", show.frame, show.rate)).on_hover_text(pixels);
    });
    ui.horizontal_wrapped(|ui| {
        ui.label("preview");
        for (detail, text) in [(1, "full"), (2, "half"), (4, "quarter")] {
            let chosen = scene.view.detail == detail;
            if ui
                .selectable_label(chosen, text)
                .on_hover_text(format!("Sides of the pictures in this window ({})", Command::Detail.key()))
                .clicked()
            {
                scene.act(Action::Detail(detail));
            }
        }
    });
    if let Some(otherwise) = scene.moment.frame.instead_of(show.frame) {
        ui.weak(otherwise);
    }
    if !show.about.is_empty() {
        ui.add_space(6.0);
        ui.small(RichText::new(shown(&show.about)).color(palette(ui.ctx()).quiet));
    }
}
