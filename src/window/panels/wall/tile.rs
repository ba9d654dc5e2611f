//! A picture on the wall, with what is said of it: an order, a look, or a family.

use std::sync::Arc;

use egui::{Align2, Galley, Id, Pos2, Rect, Response, Sense, Stroke, StrokeKind, Ui, Vec2, pos2, vec2};

use super::strip::{Strip, paint_piece};
use super::{facts_said, which};
use crate::edit::Edit;
use crate::explore::matters::{FactWords, percent};
use crate::measure::{HARDLY, HARDLY_SHOWS, figure_said};
use crate::order::{Fact, Family, in_order, orders_said};
use crate::show::chain::one_after_another;
use crate::window::action::{Action, Pin};
use crate::window::keys::Command;
use crate::window::pictures::{Stage, Urgency};
use crate::window::scene::Scene;
use crate::window::showing::{Comparing, Pair, Preview, Shown, Side, Tried, WallBy};
use crate::window::theme::{CORNER, palette};
use crate::window::threads::prover::{Candidate, FamilyLeft, Known, Look, StandsFor};
use crate::window::widgets::carried::{CarriedOrder, carried};
use crate::window::widgets::facts::paint_words;
use crate::window::widgets::flashes::mark as flash_mark;
use crate::window::widgets::hint::hint_beside;
use crate::window::widgets::reach::Entries;
use crate::window::widgets::tiles::Tiles;
use crate::window::widgets::{announce, chips, font, paint_focus, paint_picture, texels};

/// The least width of a tile, and of a family's.
const TILE: f32 = 150.0;
const FAMILY: f32 = 170.0;
/// Height of the chips under a tile's picture, and of a line of words under them.
const LINES: [f32; 2] = [27.0, 13.0];
/// Height of a fact over a family's picture.
const FACT: f32 = 18.0;
/// The most facts that stand under a picture; the rest is told to those who point at it.
const FACTS_SHOWN: usize = 2;

/// What is on the wall, and the chain's names for it.
pub struct OnWall<'a> {
    pub known: &'a Known,
    pub candidates: &'a [Candidate],
    pub words: FactWords<'a>,
}

impl OnWall<'_> {
    fn family(&self, left: &FamilyLeft) -> Option<&Family> {
        self.known.families()?.list.get(left.nth)
    }

    /// "40 of 120 orders, 33 %": of those on the wall; "drawn" where they were.
    fn share_said(&self, left: &FamilyLeft) -> String {
        let all = self.orders();
        let share = percent(left.orders as f64 / all.max(1) as f64);
        let drawn = if self.known.tally.sample().is_some() { " drawn" } else { "" };
        format!("{} of {}{drawn}, {share}", left.orders, orders_said(all.into()))
    }

    /// Orders on the wall, where it is one of families.
    fn orders(&self) -> u64 {
        let orders = |one: &Candidate| match one.stands_for {
            StandsFor::Family(left) => left.orders,
            StandsFor::Order | StandsFor::Look(..) => 0,
        };
        self.candidates.iter().map(orders).sum()
    }
}

/// How tiles stand.
pub struct Grid {
    pub columns: usize,
    /// Of a picture.
    size: Vec2,
    /// Room over a picture and under it.
    over: f32,
    under: f32,
    /// How pictures stand where each order is shown on several pieces of footage.
    strip: Option<Strip>,
}

impl Grid {
    /// Of what is on the wall, in the size that the person chose.
    pub fn of(ui: &Ui, scene: &Scene<'_>, wall: &OnWall<'_>) -> Self {
        let frame = scene.show().frame;
        let aspect = frame.width as f32 / frame.height as f32;
        let room = ui.available_size();
        let percent = scene.view.preferences.tile_percent;
        let pieces = wall.known.on_pieces.as_ref().map_or(1, |on| on.pieces.len());
        let facts = |one: &Candidate| match &one.stands_for {
            StandsFor::Family(left) => wall.family(left).map(|family| family.facts.len()),
            StandsFor::Order | StandsFor::Look(..) => None,
        };
        let facts = wall.candidates.iter().filter_map(facts).max();
        let over = facts.map_or(0, |most| held(ui, scene, most)) as f32 * FACT;
        let under = LINES[0] + LINES[1] * if facts.is_some() { 1.0 } else { 2.0 };
        if pieces > 1 {
            // Beside the bar of the scrolling area.
            let across = room.x - 10.0;
            let strip = Strip::of(across, aspect, pieces, percent);
            return Self { columns: 1, size: vec2(across, strip.height()), over, under, strip: Some(strip) };
        }
        let least = if facts.is_some() { FAMILY } else { TILE };
        let tiles = Tiles { count: wall.candidates.len(), aspect, around: over + under, least };
        let (columns, width) = tiles.stand(room, percent);
        let size = vec2(width, (width / aspect).min(width * 1.5));
        if facts.is_some() {
            return Self { columns, size, over, under, strip: None };
        }
        // Most have as many words; few of them break into a line more than the first ones.
        let lines = |one: &Candidate| words(ui, scene, wall, one, width).rows.len();
        let most = held(ui, scene, wall.candidates.iter().take(12).map(lines).max().unwrap_or(1));
        let under = LINES[0] + LINES[1] * most as f32;
        Self { columns, size, over: 0.0, under, strip: None }
    }

    /// Height of a row.
    pub fn height(&self) -> f32 {
        self.size.y + self.over + self.under
    }
}

/// So many lines, or as many as stood there while nothing may move.
fn held(ui: &Ui, scene: &Scene<'_>, lines: usize) -> usize {
    let id = Id::unique(("lines on the wall", which(scene)));
    let before = ui.data(|data| data.get_temp::<usize>(id)).filter(|_| scene.wall_is_held);
    let lines = before.unwrap_or(lines);
    ui.data_mut(|data| data.insert_temp(id, lines));
    lines
}

/// Draws a tile.
pub fn show(
    ui: &mut Ui,
    scene: &mut Scene<'_>,
    wall: &OnWall<'_>,
    nth: usize,
    grid: &Grid,
    entries: &mut Entries,
) {
    let one = &wall.candidates[nth];
    let palette = palette(ui.ctx());
    let scope = scene.view.scope;
    let order = &one.order[..];
    let code = wall.words.marks.code(order);
    let (rect, _) = ui.allocate_exact_size(vec2(grid.size.x, grid.height()), Sense::hover());
    let said = one_after_another(order.iter().map(|&place| wall.words.labels[place].as_str()));
    // Known by the order itself: a press that began on one order never ends on another.
    let id = Id::unique(("order", scene.show().address(scope), &said));
    let response = ui.interact(rect, id, entries.sense(nth, Sense::click_and_drag()));
    entries.drawn(ui, nth, &response);
    let sense = entries.sense(nth, Sense::click());
    let is_own = order.is_sorted();
    let is_shown =
        matches!(&scene.view.shown, Shown::Order { scope: s, order: o } if *s == scope && o == order);
    let [name, hint] = told(scene, wall, one, (&code, &said));
    announce(&response, &name, Some(is_shown));
    scene.wall_seen.has_focus |= response.has_focus();
    let tried = tried(scene, order, (&code, &said));
    let is_large = is_shown || (is_own && scene.view.shown == Shown::Output);
    scene.point(&response, |_| (!is_large).then(|| tried.preview.clone()));
    if response.dragged() {
        carried(ui, &tried.name);
    }
    response.dnd_set_drag_payload(tried);
    hint_beside(scene, &response, hint);

    let picture = Rect::from_min_size(rect.min + vec2(0.0, grid.over), grid.size);
    match (&wall.known.on_pieces, grid.strip) {
        (Some(on), Some(strip)) => strip.paint(ui, scene, on, picture, order, id),
        (Some(on), None) => paint_piece(ui, scene, &on.pieces[0], picture, order, id),
        (None, _) => paint(ui, scene, picture, order, id),
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

    if let StandsFor::Family(left) = &one.stands_for
        && let Some(family) = wall.family(left)
    {
        for (nth, &fact) in family.facts.iter().enumerate() {
            // The last stands next to its picture.
            let line = family.facts.len() - nth;
            let at = pos2(rect.left(), picture.top() - (line as f32 - 0.5) * FACT - 2.0);
            paint_words(ui, at, rect.width(), palette.bright, wall.words, &wall.words.facts(&[fact]));
        }
    }
    let line = picture.left_bottom() + vec2(0.0, 6.0);
    if matches!(one.stands_for, StandsFor::Family(_)) {
        let far = far(mean(scene, wall, one), is_own);
        let at = pos2(rect.right(), line.y + 7.0);
        ui.painter().text(at, Align2::RIGHT_CENTER, far, font(10.5), palette.quiet);
    }
    chips(ui, line, 14.0, order.iter().map(|&place| wall.words.marks.of(place)));
    let galley = words(ui, scene, wall, one, grid.size.x);
    let painter = ui.painter().with_clip_rect(rect.intersect(ui.clip_rect()));
    painter.galley(line + vec2(0.0, 18.0), galley, palette.plain);
    paint_focus(ui, &response, picture);

    if is_own {
        tag(ui, picture.right_top() + vec2(-4.0, 4.0), Align2::RIGHT_TOP, "current");
    } else {
        if one.holds_current {
            tag(ui, picture.left_top() + vec2(4.0, 4.0), Align2::LEFT_TOP, "holds the current order");
        }
        if (response.contains_pointer() || response.has_focus() || is_shown)
            && adopt_button(ui, scene, picture, (id, sense), &code)
        {
            return adopt(scene, order);
        }
    }
    let opened = opened(scene, wall, one, &code);
    if let Some((by, text, name)) = &opened {
        let button = open_button(ui, scene, rect, (id, sense), text, name);
        if button.clicked() {
            pressed(ui, button.id);
            return scene.act(Action::WallBy(by.clone()));
        }
    }
    if response.clicked() && ui.input(|input| input.modifiers.shift) {
        scene.compare(Side::Order { scope, order: order.to_vec() });
    } else if response.clicked() {
        // A second press at once may meet what has taken the place of what was pressed first, under its own name too.
        let opens = matches!(one.stands_for, StandsFor::Family(FamilyLeft { classes: 2.., .. }));
        let is_again = pressed(ui, if opens { id.with("family") } else { id });
        let is_many = ui.input(|input| {
            let button = egui::PointerButton::Primary;
            input.pointer.button_double_clicked(button) || input.pointer.button_triple_clicked(button)
        });
        if is_many && is_again && !is_own {
            adopt(scene, order);
        } else if !is_many || is_again {
            press(scene, one, is_shown);
        }
    }
    response.context_menu(|ui| menu(ui, scene, one, &code, opened));
}

/// What an order would make, and how it is adopted.
fn tried(scene: &Scene<'_>, order: &[usize], (code, said): (&str, &str)) -> CarriedOrder {
    let scope = scene.view.scope;
    let said = if order.is_sorted() { "the current order".to_owned() } else { format!("{code}: {said}") };
    let edit = Edit::Order { scope, order: order.to_vec() };
    CarriedOrder {
        name: format!("Order {code}"),
        preview: Preview { tried: Tried::Edit(edit), said },
        adopt: Action::Adopt(scene.row(scope, order)),
    }
}

/// Notes what was pressed on the wall; gives whether it was pressed before, too.
fn pressed(ui: &Ui, what: Id) -> bool {
    let id = Id::unique("pressed on the wall");
    let before = ui.data(|data| data.get_temp::<Id>(id));
    ui.data_mut(|data| data.insert_temp(id, what));
    before == Some(what)
}

/// Shows an order in the large picture, or the output again; a family opens with it.
fn press(scene: &mut Scene<'_>, one: &Candidate, is_shown: bool) {
    let order = one.order.clone();
    let family = match one.stands_for {
        StandsFor::Family(left) if left.classes > 1 => Some(WallBy::Family(order.clone())),
        _ => None,
    };
    let scope = scene.view.scope;
    let shown = if is_shown && family.is_none() { Shown::Output } else { Shown::Order { scope, order } };
    scene.act(Action::Show(shown));
    if let Some(family) = family {
        scene.act(Action::WallBy(family));
    }
}

fn menu(
    ui: &mut Ui,
    scene: &mut Scene<'_>,
    one: &Candidate,
    code: &str,
    opened: Option<(WallBy, String, String)>,
) {
    let (scope, order) = (scene.view.scope, &one.order[..]);
    ui.strong(format!("Order {code}"));
    ui.separator();
    if ui.button("Adopt").clicked() {
        adopt(scene, order);
        ui.close();
    }
    if ui.button("Compare with the current order").clicked() {
        let left = (0..order.len()).collect();
        let pair = Pair::of(scope, left, order.to_vec(), Comparing::Beside);
        scene.act(Action::Show(Shown::Pair(pair)));
        ui.close();
    }
    let is_other = !matches!(scene.view.shown, Shown::Output | Shown::After(_));
    if is_other && ui.button("Compare with the large picture").clicked() {
        scene.compare(Side::Order { scope, order: order.to_vec() });
        ui.close();
    }
    if let Some((by, _, name)) = opened
        && ui.button(name).clicked()
    {
        scene.act(Action::WallBy(by));
        ui.close();
    }
    if ui.button("Pin").clicked() {
        let chain = in_order(scene.show().chain(scope), order);
        scene.act(Action::Pin(Pin::new(scope, chain)));
        ui.close();
    }
}

/// The picture of an order in its place, with what it flashes where that is counted.
fn paint(ui: &Ui, scene: &mut Scene<'_>, picture: Rect, order: &[usize], id: Id) {
    let (scope, moment) = (scene.view.scope, scene.moment);
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
}

/// Whether the button was pressed.
fn adopt_button(ui: &Ui, scene: &mut Scene<'_>, picture: Rect, (id, sense): (Id, Sense), code: &str) -> bool {
    let palette = palette(ui.ctx());
    let place = Rect::from_min_size(picture.right_top() + vec2(-58.0, 4.0), vec2(54.0, 20.0));
    let button = ui.interact(place, id.with("adopt"), sense);
    announce(&button, &format!("Adopt order {code}"), None);
    scene.wall_seen.has_focus |= button.has_focus();
    ui.painter().rect_filled(place, f32::from(CORNER), palette.accent);
    ui.painter().text(place.center(), Align2::CENTER_CENTER, "Adopt", font(12.0), palette.on_accent);
    paint_focus(ui, &button, place);
    button.clicked()
}

fn open_button(
    ui: &Ui,
    scene: &mut Scene<'_>,
    rect: Rect,
    (id, sense): (Id, Sense),
    text: &str,
    name: &str,
) -> Response {
    let palette = palette(ui.ctx());
    let galley = ui.painter().layout_no_wrap(text.to_owned(), font(10.5), palette.plain);
    let place = Rect::from_min_size(
        pos2(rect.right() - galley.size().x - 8.0, rect.bottom() - LINES[1] - 3.0),
        galley.size() + vec2(8.0, 3.0),
    );
    let button = ui.interact(place, id.with("open"), sense);
    announce(&button, name, None);
    scene.wall_seen.has_focus |= button.has_focus();
    let fill = if button.hovered() || button.has_focus() { palette.lifted } else { palette.raised };
    ui.painter().rect_filled(place, 3.0, fill);
    ui.painter().galley(place.min + vec2(4.0, 1.5), galley, palette.plain);
    paint_focus(ui, &button, place);
    let hint = format!("{name}. Key: {} for what is in the large picture", Command::Unfold.key());
    button.on_hover_text(hint)
}

/// What a tile opens to, where it stands for more than itself: in a word, and in full.
fn opened(
    scene: &Scene<'_>,
    wall: &OnWall<'_>,
    one: &Candidate,
    code: &str,
) -> Option<(WallBy, String, String)> {
    let order = one.order.clone();
    let (by, text, name) = match &one.stands_for {
        StandsFor::Look(_, 2..) if is_now(scene, wall) => {
            let (_, left) = look(scene, wall, one)?;
            let by = WallBy::Look { order, in_family: matches!(scene.view.wall_by, WallBy::Family(_)) };
            let orders = orders_said(left as u128);
            (by, orders.clone(), format!("Show the {orders} that look like order {code}"))
        }
        StandsFor::Family(FamilyLeft { classes: 2.., looks, .. }) => {
            let text = match looks {
                1 => "1 look".to_owned(),
                many if is_now(scene, wall) => format!("{many} looks"),
                // How many they are is not known of the chain as it is.
                _ => "looks".to_owned(),
            };
            let name = format!("Show the {text} of the family of order {code}");
            (WallBy::Family(order), text, name)
        }
        StandsFor::Order | StandsFor::Look(..) | StandsFor::Family(_) => return None,
    };
    Some((by, format!("{text} \u{203a}"), name))
}

/// Whether looks were told apart of the chain as it is.
fn is_now(scene: &Scene<'_>, wall: &OnWall<'_>) -> bool {
    let looks = wall.known.looks.as_ref();
    scene.is_laid_now && looks.is_some_and(|gathered| gathered.is_of_now && !gathered.is_first)
}

/// The look that an order stands for and how many orders it has, where both are of the chain as it is now.
fn look<'a>(scene: &Scene<'_>, wall: &OnWall<'_>, one: &'a Candidate) -> Option<(&'a Look, usize)> {
    match &one.stands_for {
        StandsFor::Look(look, left) if is_now(scene, wall) => Some((look, *left)),
        _ => None,
    }
}

/// How far an order's picture is from that of the current one.
fn mean(scene: &Scene<'_>, wall: &OnWall<'_>, one: &Candidate) -> Option<f64> {
    let gathered = wall.known.looks.as_ref().filter(|_| is_now(scene, wall))?;
    gathered.means.get(one.class).copied().flatten()
}

/// The same in a few signs.
fn far(mean: Option<f64>, is_own: bool) -> String {
    match mean {
        _ if is_own => "as now".to_owned(),
        Some(mean) if mean < HARDLY => HARDLY_SHOWS.to_owned(),
        Some(mean) => format!("differs by {}", figure_said(mean, 1)),
        None => String::new(),
    }
}

/// What stands under a picture, broken into lines: what decides a look, what a family holds, or the order in words.
fn words(ui: &Ui, scene: &Scene<'_>, wall: &OnWall<'_>, one: &Candidate, width: f32) -> Arc<Galley> {
    let palette = palette(ui.ctx());
    let mut text =
        egui::text::LayoutJob { wrap: egui::text::TextWrapping::wrap_at_width(width), ..Default::default() };
    let format = |colour| egui::TextFormat::simple(font(10.5), colour);
    let order = || one_after_another(one.order.iter().map(|&place| wall.words.labels[place].as_str()));
    match &one.stands_for {
        StandsFor::Family(left) => {
            text.wrap = egui::text::TextWrapping::truncate_at_width(width);
            text.append(&wall.share_said(left), 0.0, format(palette.plain));
        }
        StandsFor::Order | StandsFor::Look(..) => match look(scene, wall, one) {
            None => text.append(&order(), 0.0, format(palette.plain)),
            Some((look, left)) => {
                let facts = own_facts(scene, wall, look);
                let shown = &facts[..facts.len().min(FACTS_SHOWN)];
                let rest = facts.len() - shown.len();
                let more = if rest > 0 { format!(", +{rest}") } else { String::new() };
                let decides =
                    if shown.is_empty() { order() } else { facts_said(shown, wall.words.labels) + &more };
                text.append(&decides, 0.0, format(palette.plain));
                // How many orders look like this stands on the way to them.
                let alone = if left == 1 { format!(", {}", orders_said(1)) } else { String::new() };
                let far = far(mean(scene, wall, one), one.order.is_sorted());
                text.append(&format!("\n{far}{alone}"), 0.0, format(palette.quiet));
            }
        },
    }
    ui.painter().layout_job(text)
}

/// What decides a look, without what holds for the whole family that is open.
fn own_facts(scene: &Scene<'_>, wall: &OnWall<'_>, look: &Look) -> Vec<Fact> {
    let open = match &scene.view.wall_by {
        WallBy::Family(order) => wall.known.family_of(order),
        _ => None,
    };
    let family = open.zip(wall.known.families()).map(|(nth, families)| &families.list[nth]);
    let is_own = |fact: &&Fact| family.is_none_or(|family| !family.facts.contains(fact));
    look.facts.iter().filter(is_own).copied().collect()
}

/// What a tile is to those who listen, and what is told to those who point at it.
fn told(scene: &Scene<'_>, wall: &OnWall<'_>, one: &Candidate, (code, said): (&str, &str)) -> [String; 2] {
    let own = match (one.order.is_sorted(), one.holds_current) {
        (true, _) => ", the current order",
        (_, true) => ", the current order among them",
        _ => "",
    };
    let far = match mean(scene, wall, one) {
        Some(mean) if mean > 0.0 => {
            let mean = figure_said(mean, 1);
            format!(" It differs from the current order by a mean CIEDE2000 of {mean}; 1 is just visible.")
        }
        _ => String::new(),
    };
    if let StandsFor::Family(left) = &one.stands_for
        && let Some(family) = wall.family(left)
    {
        let facts = wall.words.plain(&wall.words.facts(&family.facts));
        let share = wall.share_said(left);
        let (nth, of) = (left.nth + 1, wall.known.families().map_or(0, |families| families.list.len()));
        let press = if left.classes > 1 { "\nPress to see its looks." } else { "" };
        return [
            format!("Family {nth} of {of}: {facts}. {share}{own}, such as {code}: {said}.{far}"),
            format!("{facts}.\n{share}{own}, such as {code}: {said}.{far}{press}"),
        ];
    }
    let own = if one.order.is_sorted() { own } else { "" };
    let about = look(scene, wall, one).map(|(look, left)| {
        let facts = facts_said(&look.facts, wall.words.labels);
        let decides = if facts.is_empty() { String::new() } else { format!("You get it with {facts}. ") };
        let orders = orders_said(left as u128) + if left == 1 { " looks" } else { " look" };
        let among = if one.holds_current { ", the current one among them" } else { "" };
        format!("{decides}{orders} like this{among}.{far}")
    });
    match about {
        Some(about) => [format!("Order {code}: {said}{own}. {about}"), format!("{code}: {said}.\n{about}")],
        None => [format!("Order {code}: {said}{own}"), format!("{code}: {said}.")],
    }
}

fn adopt(scene: &mut Scene<'_>, order: &[usize]) {
    let row = scene.row(scene.view.scope, order);
    scene.act(Action::Adopt(row));
}

/// A word in a corner of a picture.
fn tag(ui: &Ui, corner: Pos2, align: Align2, text: &str) {
    let palette = palette(ui.ctx());
    let galley = ui.painter().layout_no_wrap(text.to_owned(), font(11.0), palette.bright);
    let rect = align.anchor_size(corner, galley.size() + vec2(10.0, 4.0));
    ui.painter().rect_filled(rect, f32::from(CORNER), palette.panel);
    ui.painter().galley(rect.min + vec2(5.0, 2.0), galley, palette.bright);
}
