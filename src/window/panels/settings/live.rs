//! A setting that something moves: its value as the picture has it, and what has it.

use egui::{RichText, Sense, Slider, Ui, vec2};

use crate::catalogue::{Setting, Value};
use crate::edit::Spot;
use crate::show::chain::EffectUse;
use crate::window::action::Action;
use crate::window::playing::HandAct;
use crate::window::scene::Scene;
use crate::window::theme::palette;
use crate::window::widgets::fields::{NumberField, numbers_of, painted};
use crate::window::widgets::{name, sign_button};

/// What moves a setting at present.
pub struct Live {
    /// The control that is touched and has it.
    control: Option<String>,
    /// The shape in which it moves with the beat.
    shape: Option<&'static str>,
    /// Its value in the picture.
    now: Value,
}

impl Live {
    /// What moves the setting, if anything does: a control that is touched wins over the beat.
    pub fn of(scene: &Scene<'_>, spot: Spot, place: usize, used: &EffectUse) -> Option<Self> {
        let controls = &scene.show().controls;
        let control = used.grip(place).map(|grip| &grip.control).filter(|control| {
            let at = controls.iter().position(|known| known.name == **control);
            at.is_some_and(|at| scene.hands.positions.get(at).is_some_and(Option::is_some))
        });
        let moves = used.automation(place);
        if control.is_none() && moves.is_none() {
            return None;
        }
        let seen = scene.seen_at_rest.chain(spot.scope).get(spot.at)?;
        let now = seen.values_at(&scene.moment).into_iter().nth(place)?;
        Some(Self { control: control.cloned(), shape: moves.map(|moves| moves.shape()), now })
    }

    /// Draws it; gives the value that it is to keep, where its motion is ended.
    pub fn show(&self, ui: &mut Ui, scene: &mut Scene<'_>, setting: &Setting) -> Option<Value> {
        ui.horizontal_wrapped(|ui| self.value(ui, setting));
        ui.horizontal_wrapped(|ui| self.mark(ui));
        let mut stands = None;
        ui.horizontal_wrapped(|ui| {
            if self.control.is_some() {
                let hint = "Releases every control: each setting is as the show has it again";
                if sign_button(ui, "Release all", &format!("{}: release all", setting.label), hint).clicked()
                {
                    scene.act(Action::Hand(HandAct::LetGo));
                }
            } else {
                ui.small("It moves with the beat: from where to where stands below.");
                let called = format!("{}: no more motion", setting.label);
                let hint = "It keeps the value that it has now, and its motion ends";
                if sign_button(ui, "No motion", &called, hint).clicked() {
                    stands = Some(self.now.clone());
                }
            }
        });
        stands
    }

    /// The value in the picture, in the field where it is typed at other times.
    fn value(&self, ui: &mut Ui, setting: &Setting) {
        if let Value::Colour(colour) = self.now {
            let (rect, _) = ui.allocate_exact_size(vec2(40.0, 18.0), Sense::hover());
            ui.painter().rect_filled(rect, 3.0, painted(colour));
            ui.label(colour.to_string());
            return;
        }
        let (Some((unit, range, is_whole)), Some(mut number)) =
            (numbers_of(&setting.kind), self.now.as_number())
        else {
            ui.label(setting.kind.written(&self.now).trim_matches('"'));
            return;
        };
        let by = if self.control.is_some() { "played" } else { "moves" };
        let called = format!("{}: {by}", setting.label);
        ui.add_enabled_ui(false, |ui| {
            let slider = Slider::new(&mut number, range[0]..=range[1]).show_value(false);
            let _ = ui.add(slider).accessible_name(&called);
            let field = NumberField::new(&called, unit, range);
            NumberField { is_whole, is_fixed: true, decimals: 3, runs: true, ..field }.show(ui, &mut number);
        });
    }

    /// What has it, and over what that wins.
    fn mark(&self, ui: &mut Ui) {
        let palette = palette(ui.ctx());
        let tag = |text: &str| {
            RichText::new(format!(" {text} "))
                .small()
                .background_color(palette.accent)
                .color(palette.on_accent)
        };
        match (&self.control, self.shape) {
            (Some(control), None) => {
                ui.label(tag(&name(control)));
                ui.small("plays it");
            }
            (Some(control), Some(shape)) => {
                ui.label(tag(&name(control)));
                ui.small("wins over");
                ui.label(RichText::new(shape).small().strikethrough().color(palette.quiet));
            }
            (None, Some(shape)) => {
                ui.label(tag(shape));
            }
            (None, None) => {}
        }
    }
}
