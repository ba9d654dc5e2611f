//! Every panel in its place: bar and path across the window, under them the picture between its columns.

use egui::{
    CentralPanel, Color32, EventFilter, Frame as Margins, Id, Key, Panel, Rect, Response, Role, Sense,
    Stroke, TextStyle, Ui, UiBuilder, Vec2, WidgetInfo, pos2, vec2,
};

use super::open::BESIDE;
use crate::window::action::Action;
use crate::window::arrangement::{Arrangement, Edge, MARGIN};
use crate::window::panels::{
    bar, find, flash, hands, lessons, library, picture, rehearsal, ribbon, sections, settings, structure,
    swaps, wall,
};
use crate::window::scene::Scene;
use crate::window::showing::Tab;
use crate::window::widgets::parts::stripe_before;
use crate::window::widgets::reach::part;
use crate::window::widgets::short::short_label;
use crate::window::{keys, theme};

/// Heights of the bar at the top, of the path under it, and of the line at the bottom, in points.
const BAR: f32 = 36.0;
const PATH: f32 = 132.0;
const SAID: f32 = 24.0;
/// Height of a window under which the strip of sections is lower, in points.
const LOW: f32 = 620.0;
/// How far an arrow moves an edge, in points.
const STEP: f32 = 16.0;
/// How far from its line an edge can be taken hold of, in points.
const HOLD: f32 = 3.0;

pub(super) fn panels(ui: &mut Ui, scene: &mut Scene<'_>) {
    if scene.view.rehearses {
        return rehearsed(ui, scene);
    }
    if scene.view.fills {
        return alone(ui, scene);
    }
    let palette = theme::palette(ui.ctx());
    let whole = ui.available_rect_before_wrap();
    ui.painter().rect_filled(whole, 0.0, palette.ground);
    let top = whole.with_max_y(whole.top() + BAR);
    let path = Rect::from_min_max(top.left_bottom(), pos2(whole.right(), top.bottom() + PATH));
    let said = whole.with_min_y(whole.bottom() - SAID);
    region(ui, scene, ("bar", top), (palette.panel, vec2(8.0, 2.0)), bar::top);
    region(ui, scene, ("path", path), (palette.ground, vec2(8.0, 6.0)), ribbon::show);
    let strip = match sections::has_strip(scene) {
        true => sections::HEIGHTS[usize::from(whole.height() < LOW)],
        false => 0.0,
    };
    let strip = said.with_max_y(said.top()).with_min_y(said.top() - strip);
    if strip.height() > 0.0 {
        region(ui, scene, ("sections", strip), (palette.panel, vec2(8.0, 3.0)), sections::show);
    }
    let room = Rect::from_min_max(path.left_bottom(), strip.right_top());
    let room = troubles(ui, scene, room);
    let of = Arrangement::of(room, &scene.view.preferences.sizes, !scene.view.preferences.hides_structure);
    region(ui, scene, ("picture", of.picture), (palette.ground, MARGIN), |ui, scene| {
        part(ui, scene, "The large picture", middle);
    });
    region(ui, scene, ("settings", of.settings), (palette.panel, MARGIN), |ui, scene| {
        if !sections::settings(ui, scene) {
            settings::show(ui, scene);
        }
    });
    region(ui, scene, ("beside", of.beside), (palette.ground, MARGIN), beside);
    if let Some(rect) = of.structure {
        region(ui, scene, ("structure", rect), (palette.panel, MARGIN), |ui, scene| {
            part(ui, scene, "The structure", structure::show);
        });
    }
    region(ui, scene, ("line", said), (palette.panel, vec2(8.0, 2.0)), bar::bottom);
    for y in [top.bottom(), path.bottom(), strip.top(), said.top()] {
        ui.painter().hline(whole.x_range(), y, Stroke::new(1.0, palette.line));
    }
    edges(ui, scene, &of);
}

/// The running order as it is played, and flashes where they are too many.
fn rehearsed(ui: &mut Ui, scene: &mut Scene<'_>) {
    let ground = Margins::new().fill(Color32::BLACK);
    CentralPanel::no_frame().frame(ground).show(ui, |ui| {
        let below = if flash::is_passed(scene) { flash::height(scene) } else { 0.0 };
        let whole = ui.available_rect_before_wrap();
        region(ui, scene, ("running order", whole), (Color32::BLACK, Vec2::ZERO), |ui, scene| {
            rehearsal::show(ui, scene, below);
            if below > 0.0 {
                flash::line(ui, scene);
            }
        });
    });
}

/// The picture, and nothing else; flashes only where they are too many.
fn alone(ui: &mut Ui, scene: &mut Scene<'_>) {
    let ground = Margins::new().fill(Color32::BLACK);
    CentralPanel::no_frame().frame(ground).show(ui, |ui| {
        let below = if flash::is_passed(scene) { flash::height(scene) } else { 0.0 };
        picture::alone(ui, scene, below);
        if below > 0.0 {
            flash::line(ui, scene);
        }
    });
}

/// What is wrong with effects of the person's own, at the bottom of a room; gives the room that is left.
fn troubles(ui: &mut Ui, scene: &mut Scene<'_>, room: Rect) -> Rect {
    if scene.effect_troubles.is_empty() {
        return room;
    }
    let mut rest = ui.new_child(UiBuilder::new().id_salt("effect troubles").max_rect(room));
    let frame =
        Margins::new().fill(theme::palette(ui.ctx()).panel).inner_margin(egui::Margin::symmetric(8, 4));
    Panel::bottom("effect troubles").frame(frame).show(&mut rest, |ui| bar::effect_troubles(ui, scene));
    rest.available_rect_before_wrap()
}

/// A region that nothing in it makes larger: what has no room is cut off.
fn region(
    ui: &mut Ui,
    scene: &mut Scene<'_>,
    (name, rect): (&'static str, Rect),
    (fill, margin): (Color32, Vec2),
    add: impl FnOnce(&mut Ui, &mut Scene<'_>),
) {
    ui.painter().rect_filled(rect, 0.0, fill);
    let builder = UiBuilder::new().id_salt(name).max_rect(rect.shrink2(margin));
    let builder = builder.accessibility_role(Role::Region).accessibility_label(name);
    let mut inside = ui.new_child(builder);
    inside.shrink_clip_rect(rect);
    scene.regions.push((name, rect));
    add(&mut inside, scene);
}

/// The edges between regions: dragged to another place, pressed twice back to the usual one.
fn edges(ui: &mut Ui, scene: &mut Scene<'_>, of: &Arrangement) {
    let palette = theme::palette(ui.ctx());
    for edge in Edge::ALL {
        let Some(line) = of.edge(edge) else { continue };
        let is_flat = edge == Edge::Settings;
        let hold = if is_flat { vec2(0.0, HOLD) } else { vec2(HOLD, 0.0) };
        let response = ui.interact(line.expand2(hold), Id::unique(("edge", edge)), Sense::click_and_drag());
        response.widget_info(|| WidgetInfo::labeled(Role::Splitter, true, edge_said(edge)));
        let is_held = response.dragged() || response.hovered() || response.has_focus();
        let colour = if is_held { palette.accent } else { palette.line };
        let stroke = Stroke::new(if is_held { 2.0 } else { 1.0 }, colour);
        ui.painter().line_segment([line.min, line.max], stroke);
        if is_held {
            let icon =
                if is_flat { egui::CursorIcon::ResizeVertical } else { egui::CursorIcon::ResizeHorizontal };
            ui.ctx().set_cursor_icon(icon);
        }
        let steps = if response.has_focus() { steps(ui, &response, is_flat) } else { 0 };
        if steps != 0 {
            let to = line.center() + vec2(steps as f32, steps as f32) * STEP;
            scene.act(Action::Size(edge, Some(of.dragged(edge, to))));
            scene.act(Action::KeepSizes);
        }
        if let Some(at) = response.interact_pointer_pos().filter(|_| response.dragged()) {
            scene.act(Action::Size(edge, Some(of.dragged(edge, at))));
        }
        if response.double_clicked() {
            scene.act(Action::Size(edge, None));
        }
        if response.drag_stopped() || response.double_clicked() {
            scene.act(Action::KeepSizes);
        }
    }
}

/// What an edge is, for those who listen.
fn edge_said(edge: Edge) -> &'static str {
    match edge {
        Edge::Structure => "Width of the structure: drag, or arrows",
        Edge::Beside => "Width of the tabs: drag, or arrows",
        Edge::Settings => "Height of the settings: drag, or arrows",
    }
}

/// How many steps the arrows move an edge that has the keyboard, to the right or down.
fn steps(ui: &Ui, edge: &Response, is_flat: bool) -> i32 {
    let [vertical_arrows, horizontal_arrows] = [is_flat, !is_flat];
    let filter = EventFilter { vertical_arrows, horizontal_arrows, ..EventFilter::default() };
    ui.memory_mut(|memory| memory.set_focus_lock_filter(edge.id, filter));
    let [less, more] =
        if is_flat { [Key::ArrowUp, Key::ArrowDown] } else { [Key::ArrowLeft, Key::ArrowRight] };
    let count = |key| ui.input(|input| input.num_presses(key)) as i32;
    count(more) - count(less)
}

/// The picture, its caution and flashes, and the swap table where there is room for it.
fn middle(ui: &mut Ui, scene: &mut Scene<'_>) {
    // Once is enough: where the table has the tab, the picture takes the room.
    let table = if scene.view.tab == Tab::Swaps { f32::INFINITY } else { swaps::LEAST };
    let has_room = picture::show(ui, scene, flash::height(scene) + 6.0, table);
    flash::line(ui, scene);
    if has_room {
        ui.add_space(8.0);
        swaps::below(ui, scene);
    }
}

/// The wall, the swap table or the pins.
fn beside(ui: &mut Ui, scene: &mut Scene<'_>) {
    ui.data_mut(|data| data.insert_temp(Id::unique(BESIDE), ui.max_rect()));
    part(ui, scene, "The tabs", tabs);
    let called = format!("Beside the picture: {}", scene.view.tab.name());
    part(ui, scene, &called, |ui, scene| match scene.view.tab {
        Tab::Orders => wall::show(ui, scene),
        Tab::Swaps => swaps::show(ui, scene),
        Tab::Pins => wall::pins(ui, scene),
        Tab::Hands => hands::show(ui, scene),
        Tab::Library => library::show(ui, scene),
        Tab::Lessons => lessons::show(ui, scene),
        Tab::Find => find::show(ui, scene),
    });
}

/// The way to each of them.
fn tabs(ui: &mut Ui, scene: &mut Scene<'_>) {
    ui.horizontal_wrapped(|ui| {
        for tab in Tab::ALL {
            let text = match tab {
                Tab::Pins => format!("{} {}", tab.label(), scene.view.pins.len()),
                _ => tab.label(),
            };
            let key = keys::key_of(tab);
            if ui.selectable_label(scene.view.tab == tab, text).on_hover_text(key).clicked() {
                scene.act(Action::Tab(tab));
            }
        }
        if ui.available_size_before_wrap().x > 40.0 {
            let address = scene.address(scene.view.scope);
            stripe_before(ui, scene.show().colour(scene.view.scope), 14.0);
            short_label(ui, &address, TextStyle::Body, theme::palette(ui.ctx()).quiet);
        }
    });
}
