//! Finding: what is looked for, what may change for it, and what was found.

use std::sync::Arc;

use egui::{
    Align2, Button, ComboBox, Id, Key, Rect, RichText, ScrollArea, Sense, Stroke, StrokeKind, Ui, Vec2, pos2,
    vec2,
};

use crate::base::picture::Picture;
use crate::base::shown::{shown, shown_error};
use crate::catalogue::Setting;
use crate::explore::Goal;
use crate::explore::find;
use crate::explore::find::may_be_tried;
use crate::measure::figure_said;
use crate::order::marks;
use crate::show::Scope;
use crate::show::chain::{EffectUse, one_after_another};
use crate::window::action::Action;
use crate::window::pictures::{Stage, Urgency};
use crate::window::scene::Scene;
use crate::window::seeking::{FindAct, FoundList, FoundSeen, Seeking, goal_said};
use crate::window::showing::{Preview, Shown, Tried};
use crate::window::theme::palette;
use crate::window::threads::find::Searching;
use crate::window::widgets::fields::{NumberField, numbers_of};
use crate::window::widgets::hint::hint_beside;
use crate::window::widgets::orders::nothing_yet;
use crate::window::widgets::parts::{STRIPE, stripe};
use crate::window::widgets::text::TextField;
use crate::window::widgets::tiles::{SPACE, Tiles, size as tile_size, wheel};
use crate::window::widgets::{
    WHOLE, announce, chip, chips, cut_text, fitted, font, labels, paint_focus, paint_picture, progress,
    texels,
};

/// The least width of an answer.
const ANSWER: f32 = 150.0;
/// Lines under a picture: chips, how near it is, what is other.
const LINE: f32 = 14.0;
/// The most changes that are told under a picture; all are told to those who point at it.
const CHANGES: usize = 3;

/// Draws the panel.
pub fn show(ui: &mut Ui, scene: &mut Scene<'_>) {
    let chain = scene.show().chain(scene.view.scope).clone();
    if chain.is_empty() {
        return nothing_yet(ui, scene);
    }
    ui.label("Tries thousands of orders and settings of this chain, and shows those that come nearest to what you wish.");
    let seeking = scene.view.seeking.clone();
    wish(ui, scene, &seeking);
    ui.add_space(4.0);
    may_change(ui, scene, &seeking, &chain);
    ui.add_space(4.0);
    begin(ui, scene, &seeking);
    answers(ui, scene);
}

/// What is looked for.
fn wish(ui: &mut Ui, scene: &mut Scene<'_>, seeking: &Seeking) {
    ui.horizontal_wrapped(|ui| {
        ui.strong("Looking for");
        let choice = ComboBox::from_id_salt("looked for").selected_text(goal_said(seeking.goal)).width(140.0);
        let choice = choice.show_ui(ui, |ui| {
            for goal in
                [Goal::Like].into_iter().chain(Goal::ALL.into_iter().filter(|goal| *goal != Goal::Like))
            {
                if ui.selectable_label(seeking.goal == goal, goal_said(goal)).clicked() {
                    scene.act(change(Seeking { goal, ..seeking.clone() }));
                }
            }
        });
        let _ = choice.response.accessible_name("What is looked for");
        if seeking.goal == Goal::Like {
            let mut text = seeking.like.clone();
            let hint = "path of a picture, or drop it onto the window";
            let entry = TextField::new("Picture to come near", 280.0).hint(hint).show(ui, &mut text);
            if text != seeking.like {
                scene.act(change(Seeking { like: text, ..seeking.clone() }));
            }
            if entry.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter)) {
                scene.act(Action::Find(FindAct::Begin));
            }
        }
    });
}

fn change(seeking: Seeking) -> Action {
    Action::Find(FindAct::Change(seeking))
}

/// What may change: the order, each effect on or off, and settings.
fn may_change(ui: &mut Ui, scene: &mut Scene<'_>, seeking: &Seeking, chain: &[EffectUse]) {
    let (names, marks) = (labels(chain), marks(chain));
    ui.horizontal_wrapped(|ui| {
        ui.strong("What may change");
        let mut order = seeking.order;
        if chain.len() > 1 && ui.checkbox(&mut order, "the order").clicked() {
            scene.act(change(Seeking { order, ..seeking.clone() }));
        }
        let others = find::scopes(scene.show(), scene.view.scope, true).len() - 1;
        let mut scope = seeking.scope && others > 0;
        let response = ui.add_enabled(others > 0, egui::Checkbox::new(&mut scope, "where it sits"));
        announce(&response, "The scope that the chain sits on may change", Some(scope));
        let response = response
            .on_hover_text("Tried on every scope that is in the picture, over the effects there")
            .on_disabled_hover_text("No other scope is in the picture and has room for it.");
        if response.clicked() {
            scene.act(change(Seeking { scope, ..seeking.clone() }));
        }
        for (every, text) in [(true, "every setting"), (false, "no setting")] {
            if ui.small_button(text).clicked() {
                scene.act(change(seeking.with_settings(chain, every)));
            }
        }
    });
    for (place, used) in chain.iter().enumerate() {
        let mark = marks.of(place);
        ui.horizontal_wrapped(|ui| {
            ui.spacing_mut().item_spacing.y = 1.0;
            chip(ui, mark, 14.0);
            ui.label(&names[place]);
            let mut on = seeking.switches.contains(&mark);
            let response = ui.checkbox(&mut on, "on or off");
            announce(&response, &format!("{} may be on or off", names[place]), Some(on));
            if response.clicked() {
                let mut seeking = seeking.clone();
                if on {
                    seeking.switches.insert(mark)
                } else {
                    seeking.switches.remove(&mark)
                };
                scene.act(change(seeking));
            }
            for (setting, declared) in used.effect.settings.iter().enumerate() {
                let is_free = may_be_tried(used, setting);
                let key = (mark, declared.name.clone());
                let mut ticked = is_free && seeking.settings.contains(&key);
                let response =
                    ui.add_enabled(is_free, egui::Checkbox::new(&mut ticked, declared.label.to_lowercase()));
                announce(
                    &response,
                    &format!("{} of {} may change", declared.label, names[place]),
                    Some(ticked),
                );
                let response = response.on_disabled_hover_text("It moves by itself, and stays as it is.");
                if response.clicked() {
                    let mut seeking = seeking.clone();
                    if ticked {
                        seeking.settings.insert(key)
                    } else {
                        seeking.settings.remove(&key)
                    };
                    scene.act(change(seeking));
                }
                if ticked {
                    range(ui, scene, seeking, (mark, declared), &names[place]);
                }
            }
        });
    }
}

/// From what to what a setting is tried, where it is a number.
fn range(
    ui: &mut Ui,
    scene: &mut Scene<'_>,
    seeking: &Seeking,
    (mark, declared): (u32, &Setting),
    effect: &str,
) {
    let Some((unit, whole, is_whole)) = numbers_of(&declared.kind) else { return };
    let key = (mark, declared.name.clone());
    let mut ends = seeking.ranges.get(&key).copied().unwrap_or(whole);
    let before = ends;
    for (end, word) in ends.iter_mut().zip(["from", "to"]) {
        ui.weak(word);
        let name = format!("{} of {effect} is tried {word}", declared.label);
        NumberField { is_whole, ..NumberField::new(&name, unit, whole) }.show(ui, end);
    }
    if ends != before {
        let mut seeking = seeking.clone();
        match ends == whole {
            true => seeking.ranges.remove(&key),
            false => seeking.ranges.insert(key, ends),
        };
        scene.act(change(seeking));
    }
}

/// The way to begin and to end, and how it stands.
fn begin(ui: &mut Ui, scene: &mut Scene<'_>, seeking: &Seeking) {
    let space = seeking.space(scene.show(), scene.view.scope);
    ui.horizontal_wrapped(|ui| match scene.searching {
        Some(Searching { tries, of, is_finer, is_ending }) => {
            let stop = Button::new("Stop").min_size(vec2(64.0, 0.0));
            let hint = "Ends with the best found so far";
            if ui.add_enabled(!is_ending, stop).on_hover_text(hint).clicked() {
                scene.act(Action::Find(FindAct::Stop));
            }
            progress(ui, if is_finer { 1.0 } else { tries as f32 / of.max(1) as f32 });
            let doing = match (is_ending, is_finer) {
                (true, _) => "measuring the best of them \u{2026}",
                (_, true) => "trying finer steps around the best \u{2026}",
                _ => "trying \u{2026}",
            };
            ui.label(format!("{tries} tries; {doing}"));
        }
        None => {
            let colour = palette(ui.ctx());
            let find = Button::new(RichText::new("Find it").color(colour.on_accent)).fill(colour.accent);
            let is_free = space.is_ok() && scene.pictures.gpu().is_some();
            let response = ui.add_enabled(is_free, find.min_size(vec2(64.0, 0.0)));
            if response.clicked() {
                scene.act(Action::Find(FindAct::Begin));
            }
            if let Err(why) = space {
                ui.weak(why);
            }
        }
    });
    if let Some(problem) = scene.find_problem.clone() {
        ui.label(format!("Nothing was found: {}", shown_error(&problem)));
    }
}

/// What was found, the best first.
fn answers(ui: &mut Ui, scene: &mut Scene<'_>) {
    let list = scene.found.clone();
    if list.answers.is_empty() {
        return;
    }
    if scene.found_waits {
        let hint = "The pictures stay as they are while you point at them";
        if ui.small_button("Show the better ones found").on_hover_text(hint).clicked() {
            scene.act(Action::LayWall);
        }
    }
    let is_now = list.question.as_ref().is_some_and(|question| *question.show == *scene.seen_at_rest);
    if !is_now {
        ui.small("The show has changed since: the pictures show what adopting gives now, the figures are of before.");
    }
    scene.wall_seen.rect = Some(ui.available_rect_before_wrap());
    let frame = scene.show().frame;
    tile_size(ui, scene);
    wheel(ui, scene, ui.available_rect_before_wrap());
    let aspect = frame.width as f32 / frame.height as f32;
    let count = list.answers.len() + usize::from(scene.found_like.is_some());
    let tiles = Tiles { count, aspect, around: LINE * 5.0, least: ANSWER };
    let (columns, width) = tiles.stand(ui.available_size(), scene.view.preferences.tile_percent);
    let size = vec2(width, (width * frame.height as f32 / frame.width as f32).min(width * 1.5));
    let like = scene.found_like.clone();
    ScrollArea::vertical().id_salt("found").auto_shrink([false; 2]).show(ui, |ui| {
        ui.spacing_mut().item_spacing = vec2(SPACE, SPACE);
        let mut nth = 0;
        let all = list.answers.len() + usize::from(like.is_some());
        while nth < all {
            ui.horizontal_top(|ui| {
                for at in nth..(nth + columns).min(all) {
                    match (&like, at) {
                        (Some(like), 0) => wished(ui, like, size),
                        (like, at) => {
                            let at = at - usize::from(like.is_some());
                            answer(ui, scene, &list, at, size);
                        }
                    }
                }
            });
            nth += columns;
        }
    });
}

/// The picture to come near, beside what was found.
fn wished(ui: &mut Ui, like: &Arc<Picture>, size: Vec2) {
    let colour = palette(ui.ctx());
    let (rect, response) = ui.allocate_exact_size(size + vec2(0.0, LINE * 5.0), Sense::hover());
    let picture = Rect::from_min_size(rect.min, size);
    // Kept for as long as it is the same picture.
    let id = Id::unique("the picture wished");
    let key = Arc::as_ptr(like) as usize;
    let known =
        ui.data(|data| data.get_temp::<(usize, egui::TextureHandle)>(id)).filter(|(of, _)| *of == key);
    let (_, texture) = known.unwrap_or_else(|| {
        let frame = [like.frame.width as usize, like.frame.height as usize];
        let image = egui::ColorImage::from_rgba_unmultiplied(frame, &like.rgba);
        (key, ui.ctx().load_texture("the picture wished", image, egui::TextureOptions::LINEAR))
    });
    ui.data_mut(|data| data.insert_temp(id, (key, texture.clone())));
    let whole = WHOLE;
    ui.painter().image(texture.id(), fitted(picture, like.frame), whole, egui::Color32::WHITE);
    ui.painter().rect_stroke(picture, 2.0, Stroke::new(1.0, colour.quiet), StrokeKind::Outside);
    let text = "the picture to come near";
    ui.painter().text(
        picture.left_bottom() + vec2(0.0, 5.0),
        Align2::LEFT_TOP,
        text,
        font(11.0),
        colour.plain,
    );
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Label, true, text));
}

/// One answer: its picture, its order, how near it is and what is other, and the way to adopt it.
fn answer(ui: &mut Ui, scene: &mut Scene<'_>, list: &FoundList, nth: usize, size: Vec2) {
    let colour = palette(ui.ctx());
    let (seen, Some(question)) = (&list.answers[nth], &list.question) else { return };
    let own = question.space.chain();
    let names = labels(own);
    let (rect, _) = ui.allocate_exact_size(size + vec2(0.0, LINE * 5.0), Sense::hover());
    let picture = Rect::from_min_size(rect.min, size);
    let id = Id::unique(("found", nth));
    let response = ui.interact(rect, id, Sense::click());
    let is_shown = matches!(&scene.view.shown, Shown::Found(row) if *row == seen.row);
    let near = near_said(seen, question.goal);
    let elsewhere = (seen.row.scope != seen.row.of).then(|| format!("on {}", scene.address(seen.row.scope)));
    let changes: Vec<String> = elsewhere.into_iter().chain(seen.found.changes_said(own, &names)).collect();
    let on = seen.found.order.iter().filter(|&&place| seen.found.chain[place].on);
    let order = one_after_another(on.map(|&place| names[place].as_str()));
    let other = if changes.is_empty() { "settings as they are".to_owned() } else { changes.join(", ") };
    announce(&response, &format!("Answer {}: {order}; {near}; {other}", nth + 1), Some(is_shown));
    scene.wall_seen.has_focus |= response.has_focus();
    paint(ui, scene, seen, picture, nth);
    let rim = if is_shown { colour.accent } else { colour.line };
    let stroke = Stroke::new(if is_shown { 2.0 } else { 1.0 }, rim);
    ui.painter().rect_stroke(picture, 2.0, stroke, StrokeKind::Outside);
    paint_focus(ui, &response, picture);
    let marks = marks(own);
    let mut line = picture.left_bottom() + vec2(0.0, 5.0);
    chips(ui, line, 13.0, seen.found.order.iter().map(|&place| marks.of(place)));
    line.y += LINE + 2.0;
    let lines = [near.clone()].into_iter().chain(changes.iter().take(CHANGES).cloned());
    let code = scene.show().colour(seen.row.scope).filter(|_| seen.row.scope != seen.row.of);
    for (at, text) in lines.enumerate() {
        let more = if at == CHANGES && changes.len() > CHANGES { " \u{2026}" } else { "" };
        let ink = if at == 0 { colour.plain } else { colour.quiet };
        // The second line says where it sits, if not where the chain does.
        let inset = if at == 1 && code.is_some() { STRIPE + 3.0 } else { 0.0 };
        if inset > 0.0 {
            stripe(ui.painter(), Rect::from_min_size(line, vec2(STRIPE, LINE - 2.0)), code);
        }
        let galley = cut_text(ui, &format!("{text}{more}"), 10.5, ink, size.x - inset);
        ui.painter().galley(pos2(line.x + inset, line.y), galley, ink);
        line.y += LINE - 1.0;
    }
    let place = Rect::from_min_size(picture.right_top() + vec2(-58.0, 4.0), vec2(54.0, 20.0));
    let adopt = ui.interact(place, id.with("adopt"), Sense::click());
    announce(&adopt, &format!("Adopt answer {}", nth + 1), None);
    scene.wall_seen.has_focus |= adopt.has_focus();
    ui.painter().rect_filled(place, 4.0, colour.accent);
    ui.painter().text(place.center(), Align2::CENTER_CENTER, "Adopt", font(12.0), colour.on_accent);
    paint_focus(ui, &adopt, place);
    if adopt.clicked() {
        return scene.act(Action::Find(FindAct::Adopt(seen.row.clone())));
    }
    scene.point(&response, |_| {
        let edit = seen.row.put_in_place("that was found");
        (!is_shown).then(|| Preview { tried: Tried::Edit(edit), said: format!("{order}; {other}") })
    });
    hint_beside(scene, &response, shown(&format!("{order}.\n{near}.\n{other}.")));
    if response.clicked() {
        let shown = if is_shown { Shown::Output } else { Shown::Found(seen.row.clone()) };
        scene.act(Action::Show(shown));
    }
}

/// How near an answer is: measured at the frame itself, or as it was tried.
fn near_said(seen: &FoundSeen, goal: Goal) -> String {
    match &seen.found.difference {
        Some(difference) if goal == Goal::Like => difference.in_short(),
        _ if goal.is_difference() => {
            let about = if seen.found.is_measured { "" } else { "about " };
            format!("{about}\u{394}E {}", figure_said(seen.found.figure, 1))
        }
        _ => {
            let about = if seen.found.is_measured { "" } else { "about " };
            format!("{} {about}{:.4}", goal.figure(), seen.found.figure)
        }
    }
}

fn paint(ui: &Ui, scene: &mut Scene<'_>, seen: &FoundSeen, picture: Rect, nth: usize) {
    let moment = scene.moment;
    let placed = seen.show.as_ref().and_then(|show| {
        let stage = Stage::Output((0..show.global.len()).collect());
        let wanted = scene.pictures.wanted(show, Scope::Global, moment, &stage)?;
        let texels = texels(ui, picture.size(), moment.frame);
        scene.pictures.place(Id::unique(("found", nth, "picture")), &wanted, texels, false, Urgency::Wall)
    });
    paint_picture(ui, picture, placed);
}
