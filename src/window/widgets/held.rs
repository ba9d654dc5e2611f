//! Which control moves a thing, chosen where that thing is.

use egui::Ui;

use super::name;
use super::values::far_end;
use crate::catalogue::{Kind, Value};
use crate::edit::{Edit, TimeEdit};
use crate::show::control::{Control, ControlKind, Curve, Grip};
use crate::show::grip::SectionCall;
use crate::show::{Show, Target};
use crate::window::action::Action;
use crate::window::scene::Scene;

/// Draws the choice among the show's controls; nothing where it has none. Whoever listens hears what is `called` so.
pub fn held_by(ui: &mut Ui, scene: &mut Scene<'_>, target: Target, called: &str) {
    let show = scene.work.show().clone();
    if show.controls.is_empty() {
        return;
    }
    let now = show.grips_on(target).first().map(|grip| grip.control.clone());
    ui.small("control");
    let text = now.as_deref().map_or_else(|| "none".to_owned(), name);
    let choice =
        egui::ComboBox::from_id_salt(("control", target)).selected_text(text).width(100.0).truncate();
    let shown = choice.show_ui(ui, |ui| {
        if let (true, Some(control)) = (ui.selectable_label(now.is_none(), "none").clicked(), &now) {
            scene.act(let_go(target, control));
        }
        for control in &show.controls {
            let is_it = now.as_ref() == Some(&control.name);
            if ui.selectable_label(is_it, name(&control.name)).clicked()
                && let Some(grip) = first_grip(&show, control, target)
            {
                scene.act(hold(target, grip));
            }
        }
    });
    let _ = shown.response.accessible_name(format!("{called}: control"));
}

/// Gives a control hold of something.
pub fn hold(target: Target, grip: Grip) -> Action {
    Action::Edit(Edit::Time(TimeEdit::Hold { target, grip: Box::new(grip) }))
}

/// Has a control let go of something.
pub fn let_go(target: Target, control: &str) -> Action {
    Action::Edit(Edit::Time(TimeEdit::LetGo { target, control: control.to_owned() }))
}

/// What a control holds of something at first: the whole range of a number, a colour to its complement; of words a button
/// gives another one than stands, and a continuous control goes through all.
pub fn first_grip(show: &Show, control: &Control, target: Target) -> Option<Grip> {
    let kind = show.target_kind(target)?;
    let stands = show.target_value(target);
    let [low, high] = match (&kind, &stands) {
        (Kind::Number { range: [low, high], .. }, _) => [Value::Number(*low), Value::Number(*high)],
        (Kind::Whole { range: [low, high], .. }, _) => [Value::Whole(*low), Value::Whole(*high)],
        (Kind::Choice(_), None) => [SectionCall::Next.value(), SectionCall::Next.value()],
        (Kind::Choice(words), Some(_)) if control.kind == ControlKind::Continuous => {
            [Value::Choice(0), Value::Choice(words.len().saturating_sub(1))]
        }
        (Kind::Choice(words), Some(stands)) => {
            let at = stands.as_number().unwrap_or(0.0) as usize;
            let other = Value::Choice((at + 1) % words.len().max(1));
            [other.clone(), other]
        }
        (Kind::Colour, Some(stands)) => [stands.clone(), far_end(&kind, stands)],
        (Kind::Colour, None) => return None,
    };
    Some(Grip { control: control.name.clone(), low, high, curve: Curve::Linear })
}
