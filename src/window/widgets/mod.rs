//! Small parts that several panels draw alike.

pub(super) mod carried;
pub(super) mod colour;
pub(super) mod facts;
pub(super) mod fields;
pub(super) mod flashes;
pub(super) mod held;
pub(super) mod hint;
pub(super) mod mix;
pub(super) mod orders;
pub(super) mod parts;
pub(super) mod reach;
pub(super) mod rename;
pub(super) mod rows;
pub(super) mod short;
pub(super) mod stage;
pub(super) mod stills;
pub(super) mod text;
pub(super) mod tiles;
pub(super) mod transport;
pub(super) mod values;

use egui::{
    Color32, FontFamily, FontId, Id, Rect, Response, Role, ScrollArea, Sense, Stroke, StrokeKind, Ui,
    UiBuilder, Vec2, WidgetInfo, pos2, vec2,
};

use self::short::short_text;
use super::pictures::Placed;
use super::theme::{CORNER, paint_chip, palette};
use crate::base::frame::Frame;
use crate::base::shown::shown;
pub use crate::base::shown::{shown_name as name, shown_path as path};
use crate::show::chain;
use crate::show::chain::EffectUse;

/// The whole of a texture.
pub const WHOLE: Rect = Rect { min: pos2(0.0, 0.0), max: pos2(1.0, 1.0) };

/// A font of our face.
pub fn font(size: f32) -> FontId {
    FontId::new(size, FontFamily::Proportional)
}

/// Paints a picture into `rect`, or an empty place while it is on its way.
pub fn paint_picture(ui: &Ui, rect: Rect, placed: Option<Placed>) {
    let painter = ui.painter();
    let palette = palette(ui.ctx());
    match placed {
        Some(Placed { texture, .. }) => {
            painter.image(texture, rect, WHOLE, Color32::WHITE);
        }
        None => {
            painter.rect_filled(rect, 2.0, palette.ground);
            let middle = rect.center();
            for at in [-8.0, 0.0, 8.0] {
                painter.circle_filled(middle + vec2(at, 0.0), 1.8, palette.line);
            }
        }
    }
}

/// Says what a thing that we paint is, for those who listen to the window.
pub fn announce(response: &Response, name: &str, is_selected: Option<bool>) {
    let enabled = response.enabled();
    let name = || shown(name);
    response.widget_info(|| match is_selected {
        Some(selected) => WidgetInfo::selected(Role::Button, enabled, selected, name()),
        None => WidgetInfo::labeled(Role::Button, enabled, name()),
    });
}

/// The names of a chain's effects, as they are shown.
pub fn labels(chain: &[EffectUse]) -> Vec<String> {
    chain::labels(chain).iter().map(|label| name(label)).collect()
}

/// A line around what has the keyboard.
pub fn paint_focus(ui: &Ui, response: &Response, rect: Rect) {
    if response.has_focus() {
        let stroke = Stroke::new(1.5, palette(ui.ctx()).bright);
        ui.painter().rect_stroke(rect.expand(1.5), f32::from(CORNER), stroke, StrokeKind::Outside);
    }
}

/// A line of text, shortened in its middle where its room ends.
pub fn cut_text(ui: &Ui, text: &str, size: f32, colour: Color32, width: f32) -> std::sync::Arc<egui::Galley> {
    let text = shown(text).replace(['\n', '\t'], " ");
    let short = short_text(ui, &text, &font(size), width.max(8.0)).into_owned();
    ui.painter().layout_no_wrap(short, font(size), colour)
}

/// A row of chips: an order, read from left to right, by its effects' marks.
pub fn chips(ui: &Ui, from: egui::Pos2, size: f32, marks: impl IntoIterator<Item = u32>) -> f32 {
    let mut x = from.x;
    for mark in marks {
        paint_chip(ui.painter(), Rect::from_min_size(pos2(x, from.y), Vec2::splat(size)), mark);
        x += size + 3.0;
    }
    x - from.x
}

/// A small button that is only a sign, with a name for listeners and a hint for those who point.
pub fn sign_button(ui: &mut Ui, sign: &str, name: &str, hint: &str) -> Response {
    let response = ui.add(egui::Button::new(sign).small());
    announce(&response, name, None);
    response.on_hover_text(hint)
}

/// Words that stand in one line: where the row has no room for them, they begin the next.
pub fn whole(ui: &mut Ui, words: egui::RichText) {
    ui.add(egui::Label::new(words).extend());
}

/// What is scrolled, told as such to those who listen.
pub fn scrolled<R>(ui: &mut Ui, area: ScrollArea, add: impl FnOnce(&mut Ui) -> R) -> R {
    let told = || UiBuilder::new().accessibility_role(Role::ScrollView);
    area.show(ui, |ui| ui.scope_builder(told(), add).inner).inner
}

/// How far something has come, from 0 to 1.
pub fn progress(ui: &mut Ui, share: f32) {
    let (rect, response) = ui.allocate_exact_size(vec2(70.0, 5.0), Sense::hover());
    let palette = palette(ui.ctx());
    ui.painter().rect_filled(rect, 2.5, palette.lifted);
    let share = share.clamp(0.0, 1.0);
    ui.painter().rect_filled(rect.with_max_x(rect.left() + rect.width() * share), 2.5, palette.quiet);
    response.widget_info(|| {
        let mut info = WidgetInfo::new(Role::ProgressIndicator);
        info.label = Some("Progress".to_owned());
        info.value = Some(f64::from(share));
        info
    });
}

/// A chip that stands in a row of controls.
pub fn chip(ui: &mut Ui, mark: u32, size: f32) {
    let (rect, _) = ui.allocate_exact_size(Vec2::splat(size), Sense::hover());
    paint_chip(ui.painter(), rect, mark);
}

/// The largest rectangle of the frame's proportions in the middle of `room`.
pub fn fitted(room: Rect, frame: Frame) -> Rect {
    let (width, height) = (frame.width as f32, frame.height as f32);
    let scale = (room.width() / width).min(room.height() / height).max(0.0);
    Rect::from_center_size(room.center(), vec2(width, height) * scale)
}

/// How many texels a place of this size is worth rendering: steps of 32, so that
/// a window that changes its size by a little has nothing rendered anew.
pub fn texels(ui: &Ui, size: Vec2, frame: Frame) -> Frame {
    let width = (size.x * ui.pixels_per_point() / 32.0).ceil().max(1.0) as u32 * 32;
    if width >= frame.width {
        return frame;
    }
    let height = (u64::from(width) * u64::from(frame.height)).div_ceil(u64::from(frame.width));
    Frame { width, height: height as u32 }
}

/// A text that a dialog holds while it is open.
#[derive(Clone)]
struct Draft(String);

/// A text that a dialog holds while it is open.
pub fn draft(ui: &Ui, id: Id, first: impl FnOnce() -> String) -> String {
    ui.data_mut(|data| data.get_temp_mut_or_insert_with(id, || Draft(first())).0.clone())
}

/// Keeps a text that a dialog holds.
pub fn keep_draft(ui: &Ui, id: Id, text: String) {
    ui.data_mut(|data| data.insert_temp(id, Draft(text)));
}

/// Forgets every text that dialogs held: another one opens.
pub fn drop_drafts(ctx: &egui::Context) {
    ctx.data_mut(|data| data.remove_by_type::<Draft>());
}
