//! The swap table: for each pair of effects, whether changing places changes the picture.

use egui::{Align2, Rect, ScrollArea, Sense, Stroke, StrokeKind, Ui, Vec2, pos2, vec2};

use crate::base::shown::shown;
use crate::explore::matters::FactWords;
use crate::measure::Difference;
use crate::order::{Families, Verdict, marks};
use crate::window::action::Action;
use crate::window::scene::Scene;
use crate::window::showing::{Comparing, Pair, Shown};
use crate::window::theme::{Palette, paint_chip, palette};
use crate::window::threads::prover::{Known, PairMark, swapped};
use crate::window::widgets::orders::{looking, nothing_yet, trouble};
use crate::window::widgets::reach::Entries;
use crate::window::widgets::{announce, cut_text, font, labels, paint_focus, progress};

/// Side of a field, in points: in the table's own panel, and below the picture.
const FIELDS: [f32; 2] = [44.0, 28.0];

/// Half the side of the least mark: its form can still be told.
const LEAST_MARK: f32 = 3.5;

/// The least height that the table takes below the picture.
pub const LEAST: f32 = 120.0;

/// Draws the table in its own panel.
pub fn show(ui: &mut Ui, scene: &mut Scene<'_>) {
    if scene.show().chain(scene.view.scope).is_empty() {
        return nothing_yet(ui, scene);
    }
    trouble(ui, scene);
    ui.add_space(4.0);
    ScrollArea::both().id_salt("swaps").auto_shrink([false; 2]).show(ui, |ui| {
        progress_of(ui, scene);
        let has_shares = triangle(ui, scene, FIELDS[0]);
        ui.add_space(8.0);
        legend(ui, has_shares);
    });
}

/// Draws the table below the picture.
pub fn below(ui: &mut Ui, scene: &mut Scene<'_>) {
    if scene.show().chain(scene.view.scope).len() < 2 {
        return;
    }
    ui.horizontal(|ui| {
        ui.strong("Does it matter which of two comes first?");
        progress_of(ui, scene);
    });
    ScrollArea::both().id_salt("swaps below").auto_shrink([false; 2]).show(ui, |ui| {
        ui.horizontal_top(|ui| {
            let has_shares = ui.vertical(|ui| triangle(ui, scene, FIELDS[1])).inner;
            ui.add_space(10.0);
            ui.vertical(|ui| legend(ui, has_shares));
        });
    });
}

/// How far the looking at pairs has come, while it is not through.
fn progress_of(ui: &mut Ui, scene: &Scene<'_>) {
    let Some(known) = &scene.known else {
        if !scene.view.playing && scene.unknown.is_none() {
            looking(ui, scene);
        }
        return;
    };
    let (left, of) = known.pairs_left();
    if left > 0 && scene.unknown.is_none() && scene.pictures.gpu().is_some() {
        progress(ui, 1.0 - left as f32 / of as f32);
        ui.weak(format!("{left} pairs on the way"));
    }
}

/// What is known of a chain, and its names.
struct Chain<'a> {
    known: Option<&'a Known>,
    /// With the share of each pair, once they are known of the chain as it is.
    families: Option<&'a Families>,
    words: FactWords<'a>,
}

impl Chain<'_> {
    /// How much of what order does hangs on a pair, wherever it matters; nothing of one that provably cannot matter.
    fn share(&self, (a, b): (usize, usize)) -> Option<f64> {
        self.families?
            .hangs_on(a, b)
            .filter(|_| !self.known.is_some_and(|known| known.proofs.classes.commute(a, b)))
    }

    /// The same in words.
    fn share_said(&self, pair: (usize, usize)) -> Option<String> {
        self.share(pair)?;
        self.words.hangs(self.families?, pair)
    }
}

/// Each effect against each one over it; a field is blank until what it says is known of the chain as it is. Gives
/// whether shares are known.
fn triangle(ui: &mut Ui, scene: &mut Scene<'_>, side: f32) -> bool {
    let chain = scene.show().chain(scene.view.scope);
    let (names, marks) = (labels(chain), marks(chain));
    if names.len() < 2 {
        ui.label("With one effect there is nothing to swap.");
        return false;
    }
    let known = scene.known.clone();
    let known = known.as_deref();
    let families = known.and_then(|known| scene.matters(known)?.families.as_ref());
    let chain = Chain { known, families, words: FactWords { labels: &names, marks: &marks } };
    scene.wants_pairs = true;
    ui.spacing_mut().item_spacing = Vec2::splat(3.0);
    let mut entries = Entries::of(ui, ("pairs", side.to_bits()));
    for (b, name) in names.iter().enumerate() {
        ui.horizontal(|ui| {
            for a in 0..b {
                field(ui, scene, &chain, (a, b), side, &mut entries);
            }
            let (rect, _) = ui.allocate_exact_size(vec2(130.0, side), Sense::hover());
            let at = Rect::from_min_size(rect.left_center() + vec2(5.0, -8.0), Vec2::splat(16.0));
            paint_chip(ui.painter(), at, marks.of(b));
            let colour = palette(ui.ctx()).plain;
            let left = at.right_center() + vec2(6.0, 0.0);
            let name = cut_text(ui, name, 12.5, colour, rect.right() - left.x);
            ui.painter().galley(left - vec2(0.0, name.size().y / 2.0), name, colour);
        });
    }
    entries.end(ui);
    families.is_some()
}

fn sentence(known: Option<&Known>, playing: bool, (a, b): (usize, usize)) -> String {
    let Some(known) = known else {
        let text = if playing { "Looked at once you pause" } else { "Being looked at" };
        return text.to_owned();
    };
    match (known.proofs.verdict(a, b), known.pair(a, b)) {
        (Verdict::Always(why), _) => format!("Always the same picture: {why}"),
        (Verdict::Open(why), PairMark::Here) => {
            format!("The same picture here, on this footage at this beat, though it need not be: {why}")
        }
        (Verdict::Open(why), PairMark::Differs(difference)) => {
            format!("Another picture ({}): {why}", difference.in_short())
        }
        (Verdict::Open(why), _) => format!("Being looked at: {why}"),
    }
}

fn field(
    ui: &mut Ui,
    scene: &mut Scene<'_>,
    of: &Chain<'_>,
    (a, b): (usize, usize),
    side: f32,
    entries: &mut Entries,
) {
    let palette = palette(ui.ctx());
    // Pairs of all rows, one after another.
    let nth = b * (b - 1) / 2 + a;
    let sense = entries.sense(nth, Sense::click());
    let (rect, response) = ui.allocate_exact_size(Vec2::splat(side), sense);
    entries.drawn(ui, nth, &response);
    let names = of.words.labels;
    let sentence = shown(&sentence(of.known, scene.view.playing, (a, b))).into_owned();
    let share = of.share_said((a, b)).unwrap_or_default();
    let sentence = if share.is_empty() { sentence } else { format!("{sentence}. {share}") };
    let mark = of.known.map_or(PairMark::Unknown, |known| known.pair(a, b));
    announce(&response, &format!("{} and {}: {sentence}", names[a], names[b]), None);
    let fill = if response.hovered() { palette.lifted } else { palette.raised };
    ui.painter().rect_filled(rect, 4.0, fill);
    paint_mark(ui, rect, mark, of.share((a, b)), palette);
    paint_focus(ui, &response, rect);
    if response.clicked() {
        let own: Vec<usize> = (0..names.len()).collect();
        let right = swapped(&own, a, b);
        let pair = Pair::of(scene.view.scope, own, right, Comparing::Beside);
        scene.act(Action::Show(Shown::Pair(pair)));
    }
    response.on_hover_ui(|ui| {
        ui.set_max_width(300.0);
        ui.strong(format!("{} and {}", names[a], names[b]));
        ui.label(sentence);
        ui.weak("Press to compare both.");
    });
}

/// A ring with A, a half disc with H, a square with D, empty where it hardly shows: told apart without colour. What
/// may matter is as large as its share, by its area, once that is known.
fn paint_mark(ui: &Ui, rect: Rect, mark: PairMark, share: Option<f64>, palette: Palette) {
    let middle = rect.center();
    let painter = ui.painter();
    let whole = rect.height() * 0.36;
    let radius = match share {
        Some(share) => (rect.height() * 0.46 * share.clamp(0.0, 1.0).sqrt() as f32).max(LEAST_MARK),
        None => whole,
    };
    let sign = |text: &str, colour| {
        // A mark without room for its sign is told by its form.
        if radius >= 5.5 {
            painter.text(middle, Align2::CENTER_CENTER, text, font(radius.min(whole).min(13.0)), colour);
        }
    };
    match mark {
        PairMark::Always => {
            painter.circle_stroke(middle, radius, Stroke::new(2.0, palette.quiet));
            sign("=", palette.plain);
        }
        PairMark::Here => {
            painter.circle_stroke(middle, radius, Stroke::new(2.0, palette.accent));
            let below = Rect::from_min_max(pos2(rect.left(), middle.y), rect.max);
            painter.with_clip_rect(below.intersect(ui.clip_rect())).circle_filled(
                middle,
                radius,
                palette.accent.gamma_multiply(0.45),
            );
            sign("\u{2248}", palette.bright);
        }
        PairMark::Differs(difference) => {
            let square = Rect::from_center_size(middle, Vec2::splat(radius * 1.9));
            if difference.hardly_shows() {
                painter.rect_stroke(square, 2.0, Stroke::new(2.0, palette.accent), StrokeKind::Inside);
                sign("\u{2260}", palette.plain);
            } else {
                painter.rect(square, 2.0, palette.accent, Stroke::NONE, StrokeKind::Inside);
                sign("\u{2260}", palette.on_accent);
            }
        }
        PairMark::Unknown => sign("…", palette.quiet),
    }
}

fn legend(ui: &mut Ui, has_shares: bool) {
    let palette = palette(ui.ctx());
    let differs = |mean: f64| Difference { mean, p95: mean, max: mean, changed_share: 1.0 };
    for (mark, text) in [
        (PairMark::Always, "always the same"),
        (PairMark::Here, "the same here"),
        (PairMark::Differs(differs(1.0)), "differs: press to see both"),
        (PairMark::Differs(differs(0.0)), "differs, but hardly shows"),
    ] {
        ui.horizontal(|ui| {
            let (rect, _) = ui.allocate_exact_size(Vec2::splat(24.0), Sense::hover());
            paint_mark(ui, rect, mark, None, palette);
            ui.small(text);
        });
    }
    if has_shares {
        ui.horizontal(|ui| {
            let (rect, _) = ui.allocate_exact_size(Vec2::splat(24.0), Sense::hover());
            for (x, share) in [(-7.0, 0.04), (4.0, 0.6)] {
                paint_mark(
                    ui,
                    rect.translate(vec2(x, 0.0)),
                    PairMark::Differs(differs(1.0)),
                    Some(share),
                    palette,
                );
            }
            ui.small("larger: more hangs on it");
        });
    }
}
