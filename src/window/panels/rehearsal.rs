//! The running order as it is played: its picture over the window, and under it where the set stands against the clock.

use std::sync::Arc;

use egui::{Align2, Button, Color32, FontId, Id, Rect, Sense, Ui, UiBuilder, pos2, vec2};

use crate::show::Show;
use crate::window::action::Action;
use crate::window::keys::Command;
use crate::window::pictures::Urgency;
use crate::window::scene::Scene;
use crate::window::sections::{InSection, Played, SectionAct, lasts};
use crate::window::theme::{ink, palette};
use crate::window::widgets::reach::part;
use crate::window::widgets::short::short_text;
use crate::window::widgets::{WHOLE, announce, cut_text, fitted, font, name, paint_picture, texels};

/// Share of the window's height that the band takes, and its limits in points.
const BAND: f32 = 0.22;
const BANDS: [f32; 2] = [112.0, 220.0];
/// From how many beats on the next section is near.
const NEAR: f64 = 8.0;

/// Draws the picture, and the band under it; so much of the height at the bottom is kept for something else.
pub fn show(ui: &mut Ui, scene: &mut Scene<'_>, below: f32) {
    let whole = ui.available_rect_before_wrap();
    let whole = whole.with_max_y(whole.bottom() - below);
    let high = (whole.height() * BAND).clamp(BANDS[0], BANDS[1]).min(whole.height() * 0.5);
    let (room, band) = whole.split_top_bottom_at_y(whole.bottom() - high);
    picture(ui, scene, room);
    ui.painter().rect_filled(band, 0.0, palette(ui.ctx()).panel);
    let builder = UiBuilder::new().max_rect(band.shrink2(vec2(14.0, 8.0)));
    let mut inside = ui.new_child(builder);
    inside.shrink_clip_rect(band);
    part(&mut inside, scene, "The running order", |ui, scene| {
        if let Some(played) = scene.sections.played.clone() {
            told(ui, scene, &played);
        }
    });
    ui.advance_cursor_after_rect(whole);
}

fn picture(ui: &Ui, scene: &mut Scene<'_>, room: Rect) {
    let rect = fitted(room, scene.show().frame);
    let size = texels(ui, rect.size(), scene.moment.frame);
    let wanted = scene.on_air.clone();
    let id = Id::unique("running order");
    let placed = wanted.and_then(|wanted| scene.pictures.place(id, &wanted, size, false, Urgency::Large));
    match placed {
        Some(placed) => {
            ui.painter().image(placed.texture, rect, WHOLE, Color32::WHITE);
        }
        None => paint_picture(ui, rect, None),
    }
}

/// A number of beats as it is counted down: whole ones, the one that goes on included.
fn counted(beats: f64) -> String {
    format!("{}", (beats - 1e-9).ceil().max(0.0))
}

/// The large figure, and what it counts.
fn figure(played: &Played) -> [String; 2] {
    match played.left {
        _ if played.is_over => ["0".to_owned(), "the set is over".to_owned()],
        Some(left) => {
            [counted(left), if played.next.is_some() { "beats left" } else { "beats to the end" }.to_owned()]
        }
        None => [format!("{}", played.lasted.floor()), "beats so far, until the next is called".to_owned()],
    }
}

fn told(ui: &mut Ui, scene: &mut Scene<'_>, played: &Played) {
    let show = Arc::clone(scene.work.show());
    let colours = palette(ui.ctx());
    let room = ui.max_rect();
    let [number, counts] = figure(played);
    let is_near = played.left.is_some_and(|left| left <= NEAR);
    let size = (room.height() - 22.0).clamp(30.0, 130.0);
    let column = (size * 2.2).min(room.width() * 0.28);
    let (left, rest) = room.split_left_right_at_x(room.left() + column);
    let colour = if is_near { colours.accent } else { colours.bright };
    let figure = ui.interact(left, Id::unique("beats left"), Sense::hover());
    let heard = format!("{number} {counts}");
    figure.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Label, true, &heard));
    // As large as the column has room for.
    let digits = number.len().max(2) as f32;
    let size = size.min(column / (digits * 0.6));
    ui.painter().text(left.left_top(), Align2::LEFT_TOP, &number, FontId::proportional(size), colour);
    let words = cut_text(ui, &counts, 12.0, colours.plain, left.width() - 6.0);
    ui.painter().galley(pos2(left.left(), left.bottom() - 15.0), words, colours.plain);
    let buttons = 34.0;
    let (text, foot) = rest.split_top_bottom_at_y(rest.bottom() - buttons);
    let (now, next) = text.split_left_right_at_fraction(0.5);
    of_section(ui, &show, played.now, (now.shrink2(vec2(6.0, 0.0)), "Now"));
    match played.next {
        Some(at) => of_section(ui, &show, at, (next.shrink2(vec2(6.0, 0.0)), "Next")),
        None => {
            ui.painter().text(next.left_top(), Align2::LEFT_TOP, "Nothing more", font(15.0), colours.quiet);
        }
    }
    let mut row = ui.new_child(UiBuilder::new().max_rect(foot.shrink2(vec2(6.0, 2.0))));
    row.horizontal_centered(|ui| controls(ui, scene, played));
}

/// A section in words: whether it plays or is next, its name, what is to be kept in mind.
fn of_section(ui: &Ui, show: &Show, at: InSection, (rect, which): (Rect, &str)) {
    let Some(section) = show.sections.get(at.section) else { return };
    let colours = palette(ui.ctx());
    let painter = ui.painter();
    if let Some(colour) = section.colour {
        let stripe = Rect::from_min_size(rect.left_top() - vec2(9.0, 0.0), vec2(5.0, rect.height() - 6.0));
        painter.rect_filled(stripe, 1.0, ink(colour.colour()));
    }
    let large = (rect.height() * 0.34).clamp(15.0, 34.0);
    let head = cut_text(ui, &format!("{which}: {}", lasts(section)), 11.5, colours.quiet, rect.width());
    painter.galley(rect.left_top(), head, colours.quiet);
    let own = name(&section.name);
    let galley = cut_text(ui, &own, large, colours.bright, rect.width());
    let at = rect.left_top() + vec2(0.0, 14.0);
    let bottom = at.y + galley.size().y;
    painter.galley(at, galley, colours.bright);
    let heard = ui.interact(rect, Id::unique(("section played", which)), Sense::hover());
    let said = format!("{which}: {own}");
    heard.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Label, true, &said));
    if !section.note.is_empty() && bottom + 14.0 <= rect.bottom() {
        let note = cut_text(ui, &name(&section.note), 12.5, colours.plain, rect.width());
        painter.galley(pos2(rect.left(), bottom), note, colours.plain);
    }
}

/// Previous, pause, next, the end; and how far the set has come.
fn controls(ui: &mut Ui, scene: &mut Scene<'_>, played: &Played) {
    let playing = scene.view.playing;
    let words = if playing { "Pause" } else { "Play" };
    let calls = |way: isize| Action::Section(SectionAct::Call(way));
    let acts = [
        ("Previous", Command::CallSection.nth_key(1), calls(-1), true),
        (words, Command::Play.key(), Action::Play(!playing), !played.is_over),
        ("Next", Command::CallSection.key(), calls(1), played.next.is_some()),
        ("End", Command::EndRehearsal.key(), Action::Section(SectionAct::Rehearse(false)), true),
    ];
    for (text, key, act, is_enabled) in acts {
        let button = ui.add_enabled(is_enabled, Button::new(text).min_size(vec2(64.0, 24.0)));
        announce(&button, text, None);
        if button.on_hover_text(key).clicked() {
            scene.act(act);
        }
    }
    let [beat, of] = played.set;
    let minutes = |beats: f64| {
        let seconds = (beats * 60.0 / scene.show().tempo_bpm).floor().max(0.0);
        format!("{}:{:02}", (seconds / 60.0).floor(), seconds % 60.0)
    };
    let text = format!("beat {} of {}, {} of {}", beat.floor(), of, minutes(beat), minutes(of));
    let room = ui.available_size_before_wrap().x;
    if room > 60.0 {
        let coming =
            if played.share < 1.0 { format!("{:.0} % in, ", played.share * 100.0) } else { String::new() };
        let text = format!("{coming}{text}");
        let short = short_text(ui, &text, &font(12.5), room).into_owned();
        ui.label(egui::RichText::new(short).size(12.5)).on_hover_text(text);
    }
}
