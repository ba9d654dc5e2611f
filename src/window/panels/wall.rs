//! The wall: every order of the selected chain that can differ, each as a picture.

use std::sync::Arc;

use egui::{Align2, Id, Rect, ScrollArea, Sense, Stroke, StrokeKind, Ui, pos2, vec2};

use crate::base::shown::shown;
use crate::edit::Edit;
use crate::library::content_of_chain;
use crate::measure::{HARDLY, HARDLY_SHOWS, figure_said};
use crate::order::{Condition, Explored, Fact, Marks, in_order, marks};
use crate::show::chain::said;
use crate::window::action::{Action, Comparing, Dialog, Pair, Pin, Shown, WallBy};
use crate::window::keys::Command;
use crate::window::pictures::{Stage, Urgency};
use crate::window::scene::Scene;
use crate::window::theme::{CORNER, palette};
use crate::window::threads::prover::{Candidate, Known, Look};
use crate::window::widgets::flashes::mark as flash_mark;
use crate::window::widgets::orders::{looking, nothing_yet, trouble};
use crate::window::widgets::{announce, chips, font, labels, paint_focus, paint_picture, progress, texels};

/// The least width of a tile, in points.
const TILE: f32 = 150.0;
/// Height of the chips under a tile's picture, and of a line of words under them.
const LINES: [f32; 2] = [27.0, 13.0];
const SPACE: f32 = 10.0;
/// The most facts that stand under a picture; the rest is told to those who point at it.
const FACTS_SHOWN: usize = 2;

/// Draws the wall.
pub fn show(ui: &mut Ui, scene: &mut Scene<'_>) {
    let scope = scene.view.scope;
    let chain = scene.show().chain(scope).clone();
    if chain.is_empty() {
        return nothing_yet(ui, scene);
    }
    let (names, marks) = (labels(&chain), marks(&chain));
    trouble(ui, scene);
    let Some(known) = scene.laid.clone() else {
        if scene.unknown.is_none() {
            looking(ui, scene);
        }
        return;
    };
    heading(ui, scene, &known, &names);
    if chain.len() < 2 {
        ui.add_space(8.0);
        ui.label("With one effect there is one order. Add another in a gap of the path above: press A.");
        return;
    }
    conditions(ui, scene, &names);
    let candidates = Arc::clone(&scene.candidates);
    if candidates.is_empty() {
        ui.label("No order is like that: two of the conditions contradict each other. Release one of them.");
        return;
    }
    let columns = ((ui.available_width() + SPACE) / (TILE + SPACE)).floor().max(1.0) as usize;
    let width = (ui.available_width() - 10.0 + SPACE) / columns as f32 - SPACE;
    let frame = scene.show().frame;
    let height = (width * frame.height as f32 / frame.width as f32).min(width * 1.5);
    let rows = candidates.len().div_ceil(columns);
    // Most have as many words; few of them break into a line more than the first ones.
    let rows_of_words = |ui: &Ui, scene: &Scene<'_>| {
        candidates
            .iter()
            .take(12)
            .map(|one| words(ui, scene, one, &names, width).rows.len())
            .max()
            .unwrap_or(1)
    };
    let id = Id::unique("rows of words on the wall");
    let before = ui.data(|data| data.get_temp::<usize>(id)).filter(|_| scene.wall_is_held);
    let most = before.unwrap_or_else(|| rows_of_words(ui, scene));
    ui.data_mut(|data| data.insert_temp(id, most));
    let size = vec2(width, height);
    let lines = LINES[0] + LINES[1] * most as f32;
    let area = ScrollArea::vertical().id_salt("wall").auto_shrink([false; 2]);
    ui.spacing_mut().item_spacing.y = SPACE;
    // What stands above the pictures may take a line less by now: they stay where they are.
    let id = Id::unique("top of the wall");
    let top = ui.data(|data| data.get_temp::<f32>(id)).filter(|_| scene.wall_is_held);
    ui.add_space(top.map_or(0.0, |top| top - ui.cursor().top()).max(0.0));
    ui.data_mut(|data| data.insert_temp(id, ui.cursor().top()));
    scene.wall_seen.rect = Some(ui.available_rect_before_wrap());
    area.show_rows(ui, height + lines, rows, |ui, range| {
        for row in range {
            ui.horizontal_top(|ui| {
                ui.spacing_mut().item_spacing.x = SPACE;
                let first = row * columns;
                for one in &candidates[first..candidates.len().min(first + columns)] {
                    tile(ui, scene, one, (&names, &marks), (size, lines));
                }
            });
        }
    });
}

/// "120 orders, 54 of them can differ, 12 looks", and how far their pictures have come.
fn heading(ui: &mut Ui, scene: &mut Scene<'_>, laid: &Known, names: &[String]) {
    ui.horizontal_wrapped(|ui| {
        ui.set_min_height(20.0);
        match scene.known.clone() {
            Some(known) => {
                ui.strong(counted(&known, names));
            }
            None if scene.view.playing => {
                ui.weak("Orders as last held").on_hover_text("They are looked at again once the beat is held");
            }
            None if scene.unknown.is_none() => looking(ui, scene),
            None => {}
        }
        let classes = laid.classes.len();
        if let Some(gathered) = laid.looks.as_ref().filter(|_| classes > 1) {
            let count = gathered.looks.len();
            let is_now = gathered.is_of_now && scene.is_laid_now;
            let text = match (count, gathered.is_complete) {
                _ if !is_now => "looks".to_owned(),
                (1, _) => "1 look".to_owned(),
                (_, true) => format!("{count} looks"),
                (_, false) => format!("more than {count} looks"),
            };
            let by_look = scene.view.wall_by == WallBy::Looks;
            // Edges and blur of another frame are other pictures, which may make other looks.
            let otherwise = gathered.rendered_at.instead_of(scene.seen_at_rest.frame);
            let on = otherwise.as_ref().map_or_else(|| format!("on {}", gathered.looked_at), Clone::clone);
            let is_output = gathered.of_output || scene.view.scope == crate::show::Scope::Global;
            let stage = if is_output { "at the output" } else { "leaving the chain: a command looks at the output" };
            let key = Command::Looks.key();
            let hint = format!(
                "Orders that a viewer cannot tell apart stand behind one picture (below a mean CIEDE2000 of 1, {on}, {stage}). Key: {key}"
            );
            if ui.selectable_label(by_look, text).on_hover_text(hint).clicked() {
                scene.act(Action::WallBy(WallBy::Looks));
            }
            if let Some(otherwise) = otherwise.filter(|_| is_now) {
                ui.weak(format!("told apart at {}", gathered.rendered_at)).on_hover_text(otherwise);
            }
            let all = scene.view.wall_by == WallBy::Orders;
            if ui.selectable_label(all, "every order").on_hover_text(format!("One picture for each order that can differ. Key: {key}")).clicked() {
                scene.act(Action::WallBy(WallBy::Orders));
            }
        }
        if scene.wall_waits {
            let hint = "The wall stays as it is while you point at it or have an order open";
            if ui.button(waiting_said(scene)).on_hover_text(hint).clicked() {
                scene.act(Action::LayWall);
            }
        }
        let missing = scene.pictures.missing();
        if let Some((done, of)) = scene.gathering {
            progress(ui, done as f32 / of.max(1) as f32);
            ui.weak("telling looks apart");
        } else if missing > 0 {
            progress(ui, 1.0 - missing as f32 / scene.asked.max(missing) as f32);
            ui.weak(format!("{missing} on the way"));
        }
    });
    if let (WallBy::Look(order), Some(gathered)) = (&scene.view.wall_by, &laid.looks) {
        let look = laid.look_of(order);
        ui.horizontal(|ui| {
            if ui.button("Back to all looks").clicked() {
                scene.act(Action::WallBy(WallBy::Looks));
            }
            let is_now = gathered.is_of_now && scene.is_laid_now;
            let one = gathered.looks.iter().find(|one| is_now && Some(one.number) == look);
            let facts = one.map(|one| facts_said(&one.facts, names)).unwrap_or_default();
            let text = format!("The orders that look like this one. {facts}");
            ui.add(egui::Label::new(&text).truncate()).on_hover_text(text);
        });
    }
    // Another line here would move the pictures: it waits with them.
    let Some(known) = scene.known.as_ref().filter(|_| !scene.wall_waits) else { return };
    let idle: Vec<String> = (0..names.len())
        .filter_map(|at| {
            known.proofs.idle[at]
                .as_ref()
                .map(|why| shown(&format!("{} changes nothing now: {why}", names[at])).into_owned())
        })
        .collect();
    if !idle.is_empty() {
        ui.small(format!("{}.", idle.join("; ")));
    }
}

/// "120 orders, 54 can differ".
fn counted(known: &Known, names: &[String]) -> String {
    let classes = known.classes.len();
    match (known.proofs.classes.explored(), known.proofs.classes.orders_total()) {
        (Explored::InFull, Some(total)) => {
            let plural = if total == 1 { "" } else { "s" };
            format!("{total} order{plural}, {classes} can differ")
        }
        _ => format!("the present order and {} single moves of the {} effects", classes - 1, names.len()),
    }
}

/// "Show the 12 looks found".
fn waiting_said(scene: &Scene<'_>) -> String {
    let looks = scene.known.as_ref().and_then(|known| known.looks.as_ref()).filter(|looks| looks.is_of_now);
    match looks {
        Some(gathered) if scene.view.wall_by == WallBy::Looks && gathered.looks.len() > 1 => {
            format!("Show the {} looks found", gathered.looks.len())
        }
        _ => "Show what was found".to_owned(),
    }
}

/// The conditions that orders on the wall meet, each with a way to give it up.
fn conditions(ui: &mut Ui, scene: &mut Scene<'_>, names: &[String]) {
    ui.horizontal_wrapped(|ui| {
        for (at, condition) in scene.view.conditions.clone().into_iter().enumerate() {
            let text = condition_said(condition, names);
            let response =
                ui.button(format!("{text}  \u{d7}")).on_hover_text("Show orders that are not so, too");
            announce(&response, &format!("Release: {text}"), None);
            if response.clicked() {
                scene.act(Action::Release(at));
            }
        }
        let text = if scene.view.conditions.is_empty() { "Only orders with …" } else { "and with …" };
        if ui
            .button(text)
            .on_hover_text(format!(
                "Show only orders in which an effect is first, last, or before another. Key: {}",
                Command::Only.key()
            ))
            .clicked()
        {
            scene.act(Action::Ask(Dialog::Condition));
        }
        if scene.view.scope != crate::show::Scope::Global {
            for (output, text, hint) in [
                (
                    false,
                    "leaving the chain",
                    "The picture as it leaves this chain, before others are laid over it",
                ),
                (true, "at the output", "The picture that the audience sees"),
            ] {
                let chosen = scene.view.wall_of_output == output;
                if ui.selectable_label(chosen, text).on_hover_text(hint).clicked() {
                    scene.act(Action::WallOfOutput(output));
                }
            }
        }
    });
}

/// "tint before edge-find", "mirror last".
pub fn condition_said(condition: Condition, names: &[String]) -> String {
    let name = |place: usize| names.get(place).map_or("", String::as_str);
    match condition {
        Condition::Before { under, over } => format!("{} before {}", name(under), name(over)),
        Condition::First(effect) => format!("{} first", name(effect)),
        Condition::Last(effect) => format!("{} last", name(effect)),
    }
}

/// "tint before edge-find, mirror before channel-offset".
pub fn facts_said(facts: &[Fact], names: &[String]) -> String {
    let said = facts
        .iter()
        .map(|fact| condition_said(Condition::Before { under: fact.before, over: fact.after }, names));
    said.collect::<Vec<_>>().join(", ")
}

fn tile(
    ui: &mut Ui,
    scene: &mut Scene<'_>,
    one: &Candidate,
    (names, marks): (&[String], &Marks),
    (size, lines): (egui::Vec2, f32),
) {
    let palette = palette(ui.ctx());
    let scope = scene.view.scope;
    let order = &one.order[..];
    let code = marks.code(order);
    let (rect, _) = ui.allocate_exact_size(size + vec2(0.0, lines), Sense::hover());
    let said = said(order.iter().map(|&place| names[place].as_str()));
    // Known by the order itself: a press that began on one order never ends on another.
    let id = Id::unique(("order", scene.show().address(scope), &said));
    let response = ui.interact(rect, id, Sense::click());
    let is_own = order.is_sorted();
    let own = if is_own { ", the present order" } else { "" };
    let is_shown =
        matches!(&scene.view.shown, Shown::Order { scope: s, order: o } if *s == scope && o == order);
    let about = figures(scene, one).map(|(look, left)| about(look, left, names));
    let alike = about.as_deref().map(|about| format!(". {about}")).unwrap_or_default();
    announce(&response, &format!("Order {code}: {said}{own}{alike}"), Some(is_shown));
    scene.wall_seen.has_focus |= response.has_focus();
    let response = match about {
        Some(about) => response.on_hover_text(format!("{code}: {said}.\n{about}")),
        None => response.on_hover_text(format!("{code}: {said}.")),
    };

    let picture = Rect::from_min_size(rect.min, size);
    let moment = scene.moment;
    let show = scene.seen_at_rest.clone();
    let stage = if scene.view.wall_of_output { Stage::Output } else { Stage::After };
    let wanted = scene.pictures.wanted(&show, scope, moment, &stage(order.to_vec()));
    let place = id.with(("picture", scene.view.wall_of_output));
    let texels = texels(ui, picture.size(), moment.frame);
    let placed = wanted.and_then(|wanted| scene.pictures.place(place, &wanted, texels, false, Urgency::Wall));
    paint_picture(ui, picture, placed);
    if scene.view.flashes_of_orders {
        scene.orders_watched.push(order.to_vec());
        flash_mark(ui, picture, scene.flashes.orders.get(&(scope, order.to_vec())));
    }
    let rim = if is_shown {
        palette.accent
    } else if response.hovered() {
        palette.quiet
    } else {
        palette.line
    };
    let stroke = Stroke::new(if is_shown { 2.0 } else { 1.0 }, rim);
    ui.painter().rect_stroke(picture, 2.0, stroke, StrokeKind::Outside);

    let line = picture.left_bottom() + vec2(0.0, 6.0);
    chips(ui, line, 14.0, order.iter().map(|&place| marks.of(place)));
    let galley = words(ui, scene, one, names, size.x);
    let painter = ui.painter().with_clip_rect(rect.intersect(ui.clip_rect()));
    painter.galley(line + vec2(0.0, 18.0), galley, palette.plain);
    paint_focus(ui, &response, picture);

    if is_own {
        tag(ui, picture, "present");
    } else if response.contains_pointer() || response.has_focus() || is_shown {
        let place = Rect::from_min_size(picture.right_top() + vec2(-58.0, 4.0), vec2(54.0, 20.0));
        let button = ui.interact(place, id.with("adopt"), Sense::click());
        announce(&button, &format!("Adopt order {code}"), None);
        scene.wall_seen.has_focus |= button.has_focus();
        ui.painter().rect_filled(place, f32::from(CORNER), palette.accent);
        ui.painter().text(place.center(), Align2::CENTER_CENTER, "Adopt", font(12.0), palette.on_accent);
        paint_focus(ui, &button, place);
        if button.clicked() {
            adopt(scene, order);
            return;
        }
    }
    if let Some((_, left)) = figures(scene, one).filter(|(_, left)| *left > 1) {
        let text = format!("{left} orders \u{203a}");
        let galley = ui.painter().layout_no_wrap(text, font(10.5), palette.plain);
        let place = Rect::from_min_size(
            pos2(rect.right() - galley.size().x - 8.0, rect.bottom() - LINES[1] - 3.0),
            galley.size() + vec2(8.0, 3.0),
        );
        let button = ui.interact(place, id.with("open look"), Sense::click());
        announce(&button, &format!("Show the {left} orders that look like order {code}"), None);
        let fill = if button.hovered() || button.has_focus() { palette.lifted } else { palette.raised };
        ui.painter().rect_filled(place, 3.0, fill);
        ui.painter().galley(place.min + vec2(4.0, 1.5), galley, palette.plain);
        paint_focus(ui, &button, place);
        if button
            .on_hover_text(format!(
                "Show them all. Key: {} for the order in the large picture",
                Command::OneLook.key()
            ))
            .clicked()
        {
            scene.act(Action::WallBy(WallBy::Look(order.to_vec())));
            return;
        }
    }
    if response.double_clicked() && !is_own {
        adopt(scene, order);
    } else if response.clicked() {
        let shown = if is_shown { Shown::Output } else { Shown::Order { scope, order: order.to_vec() } };
        scene.act(Action::Show(shown));
    }
    response.context_menu(|ui| {
        ui.weak(format!("Order {code}"));
        if ui.button("Adopt").clicked() {
            adopt(scene, order);
            ui.close();
        }
        if ui.button("Compare with the present order").clicked() {
            let left = (0..order.len()).collect();
            let pair = Pair { scope, left, right: order.to_vec(), way: Comparing::Beside };
            scene.act(Action::Show(Shown::Pair(pair)));
            ui.close();
        }
        if let Some((_, left)) = figures(scene, one).filter(|(_, left)| *left > 1)
            && ui.button(format!("Show the {left} orders that look like this")).clicked()
        {
            scene.act(Action::WallBy(WallBy::Look(order.to_vec())));
            ui.close();
        }
        if ui.button("Pin").clicked() {
            let chain = in_order(scene.show().chain(scope), order);
            scene.act(Action::Pin(Pin { scope, chain }));
            ui.close();
        }
    });
}

/// The look that an order stands for and how many orders it has, where both are of the chain as it is now.
fn figures<'a>(scene: &Scene<'_>, one: &'a Candidate) -> Option<(&'a Look, usize)> {
    let (look, left) = one.look.as_ref()?;
    (scene.is_laid_now && look.mean.is_some()).then_some((look, *left))
}

/// What stands under a picture, broken into lines: what decides a look, or the order in words.
fn words(ui: &Ui, scene: &Scene<'_>, one: &Candidate, names: &[String], width: f32) -> Arc<egui::Galley> {
    let palette = palette(ui.ctx());
    let mut text =
        egui::text::LayoutJob { wrap: egui::text::TextWrapping::wrap_at_width(width), ..Default::default() };
    let format = |colour| egui::TextFormat::simple(font(10.5), colour);
    let order = || said(one.order.iter().map(|&place| names[place].as_str()));
    match figures(scene, one) {
        None => text.append(&order(), 0.0, format(palette.plain)),
        Some((look, left)) => {
            let facts = &look.facts[..look.facts.len().min(FACTS_SHOWN)];
            let rest = look.facts.len() - facts.len();
            let more = if rest > 0 { format!(", +{rest}") } else { String::new() };
            let decides = if facts.is_empty() { order() } else { facts_said(facts, names) + &more };
            text.append(&decides, 0.0, format(palette.plain));
            // How many orders look like this stands on the way to them.
            let alone = if left == 1 { ", 1 order" } else { "" };
            let far = match look.mean.filter(|_| !one.order.is_sorted()) {
                Some(mean) if mean < HARDLY => HARDLY_SHOWS.to_owned(),
                Some(mean) => format!("\u{394}E {}", figure_said(mean, 1)),
                None => "as now".to_owned(),
            };
            text.append(&format!("\n{far}{alone}"), 0.0, format(palette.quiet));
        }
    }
    ui.painter().layout_job(text)
}

/// What is to say about a look.
fn about(look: &Look, left: usize, names: &[String]) -> String {
    let facts = facts_said(&look.facts, names);
    let decides = if facts.is_empty() { String::new() } else { format!("What decides: {facts}. ") };
    let orders = if left == 1 { "1 order looks".to_owned() } else { format!("{left} orders look") };
    let far = match look.mean {
        Some(mean) if mean > 0.0 => {
            let mean = figure_said(mean, 1);
            format!(" It differs from the present order by a mean CIEDE2000 of {mean}; 1 is just visible.")
        }
        _ => String::new(),
    };
    format!("{decides}{orders} like this.{far}")
}

fn adopt(scene: &mut Scene<'_>, order: &[usize]) {
    let row = scene.row(scene.view.scope, order);
    scene.act(Action::Adopt(row));
}

/// A word in the corner of a picture.
fn tag(ui: &Ui, picture: Rect, text: &str) {
    let palette = palette(ui.ctx());
    let galley = ui.painter().layout_no_wrap(text.to_owned(), font(11.0), palette.bright);
    let size = galley.size() + vec2(10.0, 4.0);
    let rect = Rect::from_min_size(pos2(picture.right() - size.x - 4.0, picture.top() + 4.0), size);
    ui.painter().rect_filled(rect, f32::from(CORNER), palette.panel);
    ui.painter().galley(rect.min + vec2(5.0, 2.0), galley, palette.bright);
}

/// Draws the orders kept in view.
pub fn pins(ui: &mut Ui, scene: &mut Scene<'_>) {
    if scene.view.pins.is_empty() {
        ui.weak("No order is pinned. Choose one on the wall and press P: it stays here, with its settings, whatever you change.");
        return;
    }
    ScrollArea::vertical().id_salt("pins").auto_shrink([false; 2]).show(ui, |ui| {
        for (at, pin) in scene.view.pins.clone().into_iter().enumerate() {
            let width = (ui.available_width() - 12.0).min(360.0);
            let frame = scene.show().frame;
            let size = vec2(width, width * frame.height as f32 / frame.width as f32);
            let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
            let pinned = scene.pinned(at);
            let placed = pinned.and_then(|show| {
                let moment = scene.moment;
                let stage = Stage::Output((0..show.global.len()).collect());
                let wanted = scene.pictures.wanted(&show, crate::show::Scope::Global, moment, &stage)?;
                let texels = texels(ui, size, moment.frame);
                // By what it is of, not by its place in the list: when one is let go, no picture is that of another.
                let place =
                    Id::unique(("pin", scene.show().address(pin.scope), content_of_chain(&pin.chain)));
                scene.pictures.place(place, &wanted, texels, false, Urgency::Wall)
            });
            paint_picture(ui, rect, placed);
            ui.label(said(labels(&pin.chain).iter().map(String::as_str)));
            ui.horizontal(|ui| {
                let take =
                    Edit::Chain { scope: pin.scope, chain: pin.chain.clone(), name: "pinned".to_owned() };
                if ui.button("Adopt").clicked() {
                    scene.act(Action::Edit(take));
                }
                if ui.button("Let go").clicked() {
                    scene.act(Action::Unpin(at));
                }
            });
            ui.add_space(8.0);
        }
    });
}
