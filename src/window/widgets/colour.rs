//! A colour, chosen from a field of its shades, from a palette, or by typing it.

use egui::{
    Color32, EventFilter, Key, Mesh, Popup, PopupCloseBehavior, Pos2, Rect, Response, Sense, Shape, Stroke,
    StrokeKind, Ui, Vec2, WidgetInfo, pos2, vec2,
};

use super::fields::{by_first_button, colour_field, painted};
use super::{announce, paint_focus};
use crate::base::coding::OkabeIto;
use crate::base::colour::Colour;
use crate::window::theme::palette;

/// Size of the field of shades, in points.
const FIELD: Vec2 = vec2(184.0, 116.0);
/// Height of the bar of hues.
const BAR: f32 = 16.0;
/// Parts across and down that the field of shades is painted in: between the corners of one, colours run straight.
const PARTS: usize = 8;
/// How far an arrow moves, as a share of the field.
const STEP: f32 = 0.02;

/// A colour by its hue, how much of it there is, and how light it is, 0..1 each.
#[derive(Clone, Copy)]
struct Shade {
    hue: f32,
    saturation: f32,
    value: f32,
    /// The colour that this is: grey tells no hue, black nothing but itself.
    of: Colour,
}

impl Shade {
    fn of(colour: Colour) -> Self {
        let (hue, saturation, value) =
            egui::ecolor::hsv_from_rgb(colour.0.map(|byte| f32::from(byte) / 255.0));
        Self { hue, saturation, value, of: colour }
    }

    fn colour(self) -> Colour {
        let rgb = egui::ecolor::rgb_from_hsv((self.hue, self.saturation, self.value));
        Colour(rgb.map(|share| (share.clamp(0.0, 1.0) * 255.0).round() as u8))
    }
}

/// A swatch that opens the choice of another colour; gives it, and whether a run of changes is over.
pub fn colour_button(ui: &mut Ui, name: &str, colour: &mut Colour) -> (Response, bool) {
    let (rect, response) = ui.allocate_exact_size(vec2(40.0, 18.0), Sense::click());
    announce(&response, &format!("{name}: choose"), None);
    ui.painter().rect_filled(rect, 3.0, painted(*colour));
    let palette = palette(ui.ctx());
    let rim = if response.hovered() { palette.bright } else { palette.quiet };
    ui.painter().rect_stroke(rect, 3.0, Stroke::new(1.0, rim), StrokeKind::Inside);
    paint_focus(ui, &response, rect);
    let shown = Popup::menu(&response)
        .close_behavior(PopupCloseBehavior::CloseOnClickOutside)
        .show(|ui| choice(ui, name, colour));
    (response, shown.is_some_and(|shown| shown.inner))
}

/// What the swatch opens.
fn choice(ui: &mut Ui, name: &str, colour: &mut Colour) -> bool {
    ui.set_width(FIELD.x);
    let id = ui.scope_id().with("shade");
    let kept = ui.data(|data| data.get_temp::<Shade>(id)).filter(|kept| kept.of == *colour);
    let mut shade = kept.unwrap_or_else(|| Shade::of(*colour));
    let before = shade.colour();
    let mut is_over = shades(ui, name, &mut shade);
    is_over |= hues(ui, name, &mut shade);
    if shade.colour() != before {
        *colour = shade.colour();
        shade.of = *colour;
    }
    ui.data_mut(|data| data.insert_temp(id, shade));
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 3.0;
        for known in OkabeIto::ALL {
            let (called, known) = (known.name().replace('-', " "), known.colour());
            let (rect, response) = ui.allocate_exact_size(Vec2::splat(20.0), Sense::click());
            announce(&response, &format!("{called} (Okabe-Ito)"), Some(*colour == known));
            ui.painter().rect_filled(rect, 3.0, painted(known));
            let rim = if *colour == known { palette(ui.ctx()).accent } else { palette(ui.ctx()).line };
            ui.painter().rect_stroke(rect, 3.0, Stroke::new(1.5, rim), StrokeKind::Inside);
            paint_focus(ui, &response, rect);
            if response.clicked() {
                *colour = known;
                is_over = true;
            }
            response
                .on_hover_text(format!("{called}: one of eight colours told apart by all (Okabe and Ito)"));
        }
    });
    if let Some(typed) = colour_field(ui, &format!("{name}: typed"), *colour) {
        *colour = typed;
        is_over = true;
    }
    is_over
}

/// The field of shades of one hue: more of it to the right, lighter upwards.
fn shades(ui: &mut Ui, name: &str, shade: &mut Shade) -> bool {
    let (rect, response) = ui.allocate_exact_size(FIELD, Sense::click_and_drag());
    let at = pos2(shade.saturation, 1.0 - shade.value);
    let (at, is_over) = moved(ui, rect, &response, at);
    (shade.saturation, shade.value) = (at.x, 1.0 - at.y);
    let mut mesh = Mesh::default();
    for row in 0..=PARTS {
        for column in 0..=PARTS {
            let [x, y] = [column, row].map(|part| part as f32 / PARTS as f32);
            let one = Shade { saturation: x, value: 1.0 - y, ..*shade };
            mesh.colored_vertex(rect.lerp_inside(vec2(x, y)), painted(one.colour()));
        }
    }
    let across = PARTS as u32 + 1;
    for row in 0..PARTS as u32 {
        for column in 0..PARTS as u32 {
            let corner = row * across + column;
            mesh.add_triangle(corner, corner + 1, corner + across);
            mesh.add_triangle(corner + 1, corner + across, corner + across + 1);
        }
    }
    ui.painter().add(Shape::mesh(mesh));
    knob(ui, rect.lerp_inside(at.to_vec2()), shade.colour());
    paint_focus(ui, &response, rect);
    let share = |share: f32| format!("{:.0} %", share * 100.0);
    let said = format!("saturation {}, lightness {}", share(shade.saturation), share(shade.value));
    describe(&response, &format!("{name}: shade"), &said);
    is_over
}

/// Every hue, from red round to red.
fn hues(ui: &mut Ui, name: &str, shade: &mut Shade) -> bool {
    let (rect, response) = ui.allocate_exact_size(vec2(FIELD.x, BAR), Sense::click_and_drag());
    let (at, is_over) = moved(ui, rect, &response, pos2(shade.hue, 0.5));
    shade.hue = at.x;
    let mut mesh = Mesh::default();
    for part in 0..=6 {
        let hue = part as f32 / 6.0;
        let one = Shade { hue, saturation: 1.0, value: 1.0, of: shade.of };
        for y in [0.0, 1.0] {
            mesh.colored_vertex(rect.lerp_inside(vec2(hue, y)), painted(one.colour()));
        }
        if part < 6 {
            mesh.add_triangle(2 * part, 2 * part + 1, 2 * part + 2);
            mesh.add_triangle(2 * part + 1, 2 * part + 2, 2 * part + 3);
        }
    }
    ui.painter().add(Shape::mesh(mesh));
    let pure = Shade { saturation: 1.0, value: 1.0, ..*shade }.colour();
    knob(ui, rect.lerp_inside(vec2(at.x, 0.5)), pure);
    paint_focus(ui, &response, rect);
    describe(&response, &format!("{name}: hue"), &format!("{:.0} degrees", shade.hue * 360.0));
    is_over
}

fn knob(ui: &Ui, at: Pos2, colour: Colour) {
    ui.painter().circle(at, 5.0, painted(colour), Stroke::new(3.0, Color32::BLACK));
    ui.painter().circle_stroke(at, 5.0, Stroke::new(1.5, Color32::WHITE));
}

fn describe(response: &Response, name: &str, said: &str) {
    response.widget_info(|| {
        let mut info = WidgetInfo::labeled(egui::Role::Slider, true, name);
        info.current_text_value = Some(said.to_owned());
        info
    });
}

/// A point of a field that the pointer or the arrows move, in shares of its sides; and whether a run of moves is over.
fn moved(ui: &mut Ui, rect: Rect, response: &Response, at: Pos2) -> (Pos2, bool) {
    let mut at = at;
    by_first_button(ui, &mut at, |_, at| {
        if let Some(pointer) = response.interact_pointer_pos() {
            let share = (pointer - rect.min) / rect.size();
            *at = share.clamp(Vec2::ZERO, Vec2::splat(1.0)).to_pos2();
        }
        response.clone()
    });
    let mut is_over = response.drag_stopped() || response.clicked() || response.lost_focus();
    if response.has_focus() {
        let filter = EventFilter { horizontal_arrows: true, vertical_arrows: true, ..EventFilter::default() };
        ui.memory_mut(|memory| memory.set_focus_lock_filter(response.id, filter));
        let steps = ui.input(|input| {
            let count = |key| input.num_presses(key) as f32;
            vec2(count(Key::ArrowRight) - count(Key::ArrowLeft), count(Key::ArrowDown) - count(Key::ArrowUp))
        });
        at = (at + steps * STEP).clamp(Pos2::ZERO, pos2(1.0, 1.0));
        is_over |= steps != Vec2::ZERO;
    }
    (at, is_over)
}
