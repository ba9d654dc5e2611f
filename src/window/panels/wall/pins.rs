//! The pins: orders kept in view, each under its name, whatever becomes of the chain.

use egui::{Id, Key, Rect, ScrollArea, Sense, TextStyle, Ui, Vec2, vec2};

use crate::edit::{Edit, Pin};
use crate::library::content_of_chain;
use crate::order::marks;
use crate::show::Scope;
use crate::show::chain::one_after_another;
use crate::window::action::Action;
use crate::window::keys::Command;
use crate::window::pictures::{Stage, Urgency};
use crate::window::scene::Scene;
use crate::window::showing::{Preview, Tried};
use crate::window::theme::palette;
use crate::window::widgets::carried::{CarriedOrder, carried};
use crate::window::widgets::hint::hint_beside;
use crate::window::widgets::short::short_label;
use crate::window::widgets::text::TextField;
use crate::window::widgets::tiles::{SPACE, Tiles, size as tile_size, wheel};
use crate::window::widgets::{announce, chips, labels, name, paint_focus, paint_picture, texels};

/// The least width of a pin, and the height of what stands under its picture.
const PIN: f32 = 190.0;
const AROUND: f32 = 96.0;
/// Side of a chip under a picture.
const CHIP: f32 = 14.0;

/// What an entry of a pin's menu does.
type Does<'a> = dyn Fn(&mut Scene<'_>) + 'a;

/// Draws the orders kept in view.
pub fn pins(ui: &mut Ui, scene: &mut Scene<'_>) {
    if scene.view.pins.is_empty() {
        ui.weak(format!(
            "No order is pinned. Choose one on the wall and press {}: it stays here, with its settings, whatever you change.",
            Command::Pin.key()
        ));
        return;
    }
    tile_size(ui, scene);
    let pins = scene.view.pins.clone();
    let frame = scene.show().frame;
    let aspect = frame.width as f32 / frame.height as f32;
    wheel(ui, scene, ui.available_rect_before_wrap());
    let tiles = Tiles { count: pins.len(), aspect, around: AROUND, least: PIN };
    let (columns, width) = tiles.stand(ui.available_size(), scene.view.preferences.tile_percent);
    let size = vec2(width, (width / aspect).min(width * 1.5));
    ScrollArea::vertical().id_salt("pins").auto_shrink([false; 2]).show(ui, |ui| {
        ui.spacing_mut().item_spacing.y = 4.0;
        for (nth, row) in pins.chunks(columns).enumerate() {
            ui.horizontal_top(|ui| {
                ui.spacing_mut().item_spacing.x = SPACE;
                for (at, pin) in row.iter().enumerate() {
                    ui.vertical(|ui| {
                        ui.set_width(size.x);
                        show(ui, scene, (nth * columns + at, pin), size);
                    });
                }
            });
            ui.add_space(8.0);
        }
    });
}

/// One pin: its picture, its name, its order, and what can be done with it.
fn show(ui: &mut Ui, scene: &mut Scene<'_>, (at, pin): (usize, &Pin), size: Vec2) {
    let (rect, response) = ui.allocate_exact_size(size, Sense::click_and_drag());
    let called = name(&pin.called());
    let order = one_after_another(labels(&pin.chain).iter().map(String::as_str));
    announce(&response, &format!("Pin {}, {called}: {order}", at + 1), None);
    let edit = Edit::Chain { scope: pin.scope, chain: pin.chain.clone(), name: "pinned".to_owned() };
    let carries = CarriedOrder {
        name: called.clone(),
        preview: Preview { tried: Tried::Edit(edit.clone()), said: format!("pinned, {called}: {order}") },
        adopt: Action::Edit(edit.clone()),
    };
    scene.point(&response, |_| Some(carries.preview.clone()));
    if response.dragged() {
        carried(ui, &called);
    }
    response.dnd_set_drag_payload(carries);
    paint(ui, scene, (at, pin), rect);
    paint_focus(ui, &response, rect);
    let (line, _) = ui.allocate_exact_size(vec2(size.x, CHIP + 4.0), Sense::hover());
    let marks = marks(&pin.chain);
    chips(ui, line.min + vec2(0.0, 4.0), CHIP, (0..pin.chain.len()).map(|place| marks.of(place)));
    if !rename(ui, scene, (at, pin), size.x) {
        short_label(ui, &called, TextStyle::Body, palette(ui.ctx()).bright);
    }
    short_label(ui, &order, TextStyle::Small, palette(ui.ctx()).quiet);
    let compare = |scene: &mut Scene<'_>| scene.compare(scene.side_of(pin));
    if response.clicked() {
        compare(scene);
    }
    let entries: [(&str, &Does); 4] = [
        ("Adopt", &|scene| scene.act(Action::Edit(edit.clone()))),
        ("Compare", &|scene| compare(scene)),
        ("Rename", &|scene| scene.act(Action::RenamePin(Some(at)))),
        ("Unpin", &|scene| scene.act(Action::Unpin(at))),
    ];
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 4.0;
        for (text, does) in entries {
            let button = ui.small_button(text);
            let hint = format!("With the large picture ({})", Command::ComparePin.key());
            let button = if text == "Compare" { button.on_hover_text(hint) } else { button };
            if button.clicked() {
                does(scene);
            }
        }
    });
    response.context_menu(|ui| {
        ui.strong(&called);
        ui.separator();
        for (text, does) in entries {
            if ui.button(text).clicked() {
                does(scene);
                ui.close();
            }
        }
    });
    let hint = "Press: compare it with the large picture. Drag it onto the path or the picture: adopt it.";
    hint_beside(scene, &response, format!("{called}\n{order}\n{hint}"));
}

/// The field in the place of its name, while it is renamed.
fn rename(ui: &mut Ui, scene: &mut Scene<'_>, (at, pin): (usize, &Pin), width: f32) -> bool {
    if scene.view.renaming_pin != Some(at) {
        return false;
    }
    let id = Id::unique("the pin renamed");
    let begun = ui.data(|data| data.get_temp::<String>(id));
    let mut text = begun.clone().unwrap_or_else(|| pin.called());
    let said = format!("New name of pin {}", at + 1);
    let entry = TextField::new(&said, width - 12.0).id(id.with("field")).show(ui, &mut text);
    if begun.is_none() {
        entry.request_focus();
    }
    ui.data_mut(|data| data.insert_temp(id, text.clone()));
    if begun.is_some() && (entry.lost_focus() || !entry.has_focus()) {
        ui.data_mut(|data| data.remove::<String>(id));
        scene.act(Action::RenamePin(None));
        let is_given_up = ui.input(|input| input.key_pressed(Key::Escape));
        if !is_given_up && text.trim() != pin.called() {
            scene.act(Action::NamePin(at, text.trim().to_owned()));
        }
    }
    true
}

fn paint(ui: &Ui, scene: &mut Scene<'_>, (at, pin): (usize, &Pin), rect: Rect) {
    let placed = scene.pinned(at).and_then(|show| {
        let moment = scene.moment;
        let stage = Stage::Output((0..show.global.len()).collect());
        let wanted = scene.pictures.wanted(&show, Scope::Global, moment, &stage)?;
        let texels = texels(ui, rect.size(), moment.frame);
        // By what it is of, not by its place in the list: when one is unpinned, no picture is that of another.
        let place = Id::unique(("pin", scene.show().address(pin.scope), content_of_chain(&pin.chain)));
        scene.pictures.place(place, &wanted, texels, false, Urgency::Wall)
    });
    paint_picture(ui, rect, placed);
}
