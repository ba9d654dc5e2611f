//! Where the controls lie on the device, on a plain grid as it is printed on the map, and dragged there to other places.

use std::sync::Arc;

use egui::text::{LayoutJob, TextWrapping};
use egui::{
    Align2, Color32, CursorIcon, Id, Pos2, Rect, Role, ScrollArea, Sense, Stroke, StrokeKind, Ui, WidgetInfo,
    pos2, vec2,
};

use super::controls_edit;
use crate::drawing::ink::OKABE_ITO;
use crate::hands::{Neighbours, neighbours};
use crate::show::Show;
use crate::show::control::{Control, ControlKind, Hand, MOST_PLACES};
use crate::window::scene::Scene;
use crate::window::theme::{ink, palette};
use crate::window::widgets::reach::part;
use crate::window::widgets::{font, name, scrolled};

/// Widths of a place at the least and at the most, and its height, in points.
const WIDTHS: [f32; 2] = [54.0, 104.0];
const HEIGHT: f32 = 52.0;
/// Room between two places, in which a line joins what lies next to each other.
const GAP: f32 = 10.0;
/// Room for the numbers of columns and rows.
const NUMBERS: f32 = 14.0;
/// Height of the band that says which hand plays.
const BAND: f32 = 14.0;
/// Width of a fader's slot.
const SLOT: f32 = 8.0;
/// Places beside those that are taken, so that there is somewhere to go.
const SPARE: u32 = 1;

/// The grid as it is drawn.
#[derive(Clone, Copy)]
struct Grid {
    corner: Pos2,
    width: f32,
    first: [u32; 2],
    last: [u32; 2],
}

impl Grid {
    fn rect(&self, [column, row]: [u32; 2]) -> Rect {
        let across = (column - self.first[0]) as f32 * (self.width + GAP);
        let down = (row - self.first[1]) as f32 * (HEIGHT + GAP);
        Rect::from_min_size(self.corner + vec2(across, down), vec2(self.width, HEIGHT))
    }

    /// The place under a point; none outside.
    fn at(&self, point: Pos2) -> Option<[u32; 2]> {
        let all = (self.first[1]..=self.last[1])
            .flat_map(|row| (self.first[0]..=self.last[0]).map(move |column| [column, row]));
        let mut all = all.filter(|place| self.rect(*place).expand(GAP / 2.0).contains(point));
        all.next()
    }
}

/// Draws the grid; nothing where nobody knows where anything lies.
pub(super) fn show(ui: &mut Ui, scene: &mut Scene<'_>, show: &Arc<Show>) {
    let places: Vec<[u32; 2]> = show.controls.iter().filter_map(|control| control.at).collect();
    let least = |n: usize| places.iter().map(|at| at[n]).min();
    let most = |n: usize| places.iter().map(|at| at[n]).max();
    let (Some(first), Some(last)) = (least(0).zip(least(1)), most(0).zip(most(1))) else { return };
    // Rows take height from the controls themselves: one more where there is no other.
    let spare = [SPARE, if first.1 == last.1 { SPARE } else { 0 }];
    let first = [first.0.saturating_sub(SPARE).max(1), first.1];
    let last = [last.0 + spare[0], last.1 + spare[1]].map(|at| at.min(MOST_PLACES));
    part(ui, scene, "Where the controls lie", |ui, scene| {
        let [columns, rows] = [0, 1].map(|n| (last[n] - first[n] + 1) as f32);
        let room = ui.available_width() - NUMBERS - 12.0;
        let width = (room / columns - GAP).clamp(WIDTHS[0], WIDTHS[1]);
        let area = ScrollArea::horizontal().id_salt("places").auto_shrink([false, true]);
        scrolled(ui, area, |ui| {
            let size = vec2(columns * (width + GAP) + NUMBERS, rows * (HEIGHT + GAP) + NUMBERS);
            let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
            let corner = rect.min + vec2(NUMBERS, NUMBERS);
            grid(ui, scene, show, Grid { corner, width, first, last });
        });
        let near = neighbours_of(ui, show);
        ui.small(said(show, &near));
    });
    ui.add_space(6.0);
}

fn grid(ui: &mut Ui, scene: &mut Scene<'_>, show: &Arc<Show>, of: Grid) {
    let colours = palette(ui.ctx());
    let dragged = Id::unique("control that is dragged");
    let carried = ui.data(|data| data.get_temp::<usize>(dragged)).filter(|at| *at < show.controls.len());
    let pointer = ui.input(|input| input.pointer.latest_pos());
    let into = carried.and(pointer).and_then(|pointer| of.at(pointer));
    for column in of.first[0]..=of.last[0] {
        let at = of.rect([column, of.first[1]]).center_top() - vec2(0.0, 2.0);
        ui.painter().text(at, Align2::CENTER_BOTTOM, column, font(10.0), colours.quiet);
    }
    for row in of.first[1]..=of.last[1] {
        let at = of.rect([of.first[0], row]).left_center() - vec2(4.0, 0.0);
        ui.painter().text(at, Align2::RIGHT_CENTER, row, font(10.0), colours.quiet);
        for column in of.first[0]..=of.last[0] {
            let is_aimed = into == Some([column, row]);
            let stroke =
                if is_aimed { Stroke::new(2.5, colours.accent) } else { Stroke::new(1.0, colours.line) };
            ui.painter().rect_stroke(of.rect([column, row]), 4.0, stroke, StrokeKind::Inside);
        }
    }
    for near in neighbours_of(ui, show).iter() {
        let [a, b] = near.controls.map(|at| show.controls[at].at.map(|at| of.rect(at).center()));
        let (Some(a), Some(b)) = (a, b) else { continue };
        let stroke = if near.meet {
            Stroke::new(8.0, hand_colours(Hand::Right)[0])
        } else {
            Stroke::new(2.5, colours.plain)
        };
        ui.painter().line_segment([a, b], stroke);
    }
    for (at, control) in show.controls.iter().enumerate() {
        let Some(place) = control.at else { continue };
        let rect = of.rect(place);
        let response = ui.interact(rect, Id::unique(("place of a control", at)), Sense::drag());
        let own = name(&control.name);
        let heard = format!(
            "{own} lies at column {}, row {}: {} hand, {}",
            place[0],
            place[1],
            control.hand.name(),
            control.kind.name()
        );
        response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &heard));
        pad(ui, rect.shrink(2.0), control, scene.hands.positions.get(at).copied().flatten());
        if response.drag_started() {
            ui.data_mut(|data| data.insert_temp(dragged, at));
        }
        if response.drag_stopped() {
            ui.data_mut(|data| data.remove::<usize>(dragged));
            if let Some(to) = into.filter(|to| carried == Some(at) && *to != place) {
                scene.act(controls_edit(moved(show, at, to)));
            }
        }
        let cursor = if response.dragged() { CursorIcon::Grabbing } else { CursorIcon::Grab };
        response.on_hover_cursor(cursor).on_hover_text(format!("{heard}\nDrag it to another place"));
    }
}

/// The controls with one of them at another place; what lay there lies where it was.
fn moved(show: &Show, at: usize, to: [u32; 2]) -> Vec<Control> {
    let mut controls = show.controls.clone();
    let from = controls[at].at;
    if let Some(other) = controls.iter_mut().find(|control| control.at == Some(to)) {
        other.at = from;
    }
    controls[at].at = Some(to);
    controls
}

/// The band of a hand and the letters on it, as its cards on the map are.
fn hand_colours(hand: Hand) -> [Color32; 2] {
    let [blue, vermilion, green] = [OKABE_ITO[4], OKABE_ITO[5], OKABE_ITO[2]].map(ink);
    match hand {
        Hand::Left => [blue, Color32::WHITE],
        Hand::Right => [vermilion, Color32::BLACK],
        Hand::Either => [green, Color32::BLACK],
    }
}

/// One control as it lies there: a slot stands anywhere, one outline is on while it is pressed, two until it is pressed
/// again.
fn pad(ui: &Ui, rect: Rect, control: &Control, position: Option<f64>) {
    let colours = palette(ui.ctx());
    let painter = ui.painter().with_clip_rect(rect.expand(1.0).intersect(ui.clip_rect()));
    let fill = if position.is_some() { colours.lifted } else { colours.raised };
    painter.rect_filled(rect, 4.0, fill);
    let [band, letters] = hand_colours(control.hand);
    let head = rect.with_max_y(rect.top() + BAND);
    painter.rect_filled(head, 4.0, band);
    painter.text(
        head.left_center() + vec2(5.0, 0.0),
        Align2::LEFT_CENTER,
        control.hand.name(),
        font(10.0),
        letters,
    );
    if let Some(key) = control.key {
        let at = head.right_center() - vec2(5.0, 0.0);
        painter.text(at, Align2::RIGHT_CENTER, key, font(11.0), letters);
    }
    let rim =
        if position.is_some() { Stroke::new(2.0, colours.accent) } else { Stroke::new(1.0, colours.quiet) };
    painter.rect_stroke(rect, 4.0, rim, StrokeKind::Inside);
    let mut words = rect.with_min_y(head.bottom()).shrink2(vec2(4.0, 3.0));
    match control.kind {
        ControlKind::Continuous => {
            let slot = words.with_min_x(words.right() - SLOT);
            words.set_right(slot.left() - 3.0);
            painter.rect_stroke(slot, 2.0, Stroke::new(1.0, colours.quiet), StrokeKind::Inside);
            let y = slot.bottom() - 3.0 - position.unwrap_or(0.0) as f32 * (slot.height() - 6.0);
            let ink = if position.is_some() { colours.accent } else { colours.quiet };
            painter.hline(slot.x_range(), y, Stroke::new(4.0, ink));
        }
        ControlKind::Latching => {
            let inner = rect.with_min_y(head.bottom()).shrink(2.5);
            painter.rect_stroke(inner, 2.0, Stroke::new(1.0, colours.quiet), StrokeKind::Inside);
        }
        ControlKind::Momentary => {}
    }
    let own = name(&control.name);
    let laid = |break_anywhere: bool| {
        let mut job = LayoutJob::simple(own.clone(), font(10.5), colours.bright, words.width());
        job.wrap = TextWrapping { max_width: words.width(), max_rows: 2, break_anywhere, ..job.wrap };
        painter.layout_job(job)
    };
    // A word is broken only where it has no room.
    let by_words = laid(false);
    let galley = if by_words.size().x <= words.width() { by_words } else { laid(true) };
    painter.galley(pos2(words.left(), words.center().y - galley.size().y / 2.0), galley, colours.bright);
}

/// What lies next to each other, worked out once for a show: cues of a whole night are looked at for it.
fn neighbours_of(ui: &Ui, show: &Arc<Show>) -> Arc<Vec<Neighbours>> {
    type Known = (Arc<Show>, Arc<Vec<Neighbours>>);
    let id = Id::unique("neighbours on the device");
    if let Some((of, known)) = ui.data(|data| data.get_temp::<Known>(id))
        && Arc::ptr_eq(&of, show)
    {
        return known;
    }
    let known = Arc::new(neighbours(show));
    ui.data_mut(|data| data.insert_temp::<Known>(id, (Arc::clone(show), Arc::clone(&known))));
    known
}

/// What the lines mean, and where two hands meet.
fn said(show: &Show, near: &[Neighbours]) -> String {
    let meeting = near.iter().filter(|near| near.meet);
    let meeting: Vec<String> =
        meeting.map(|near| near.controls.map(|at| name(&show.controls[at].name)).join(" and ")).collect();
    match (near.is_empty(), meeting.is_empty()) {
        (true, _) => "No two lie next to each other: one hand plays them one after the other.".to_owned(),
        (false, true) => "A line joins what lies next to each other: one hand plays both at once.".to_owned(),
        (false, false) => format!(
            "A line joins what lies next to each other: one hand plays both at once; a thick one, where two hands meet, which want room between: {}.",
            meeting.join(", ")
        ),
    }
}
