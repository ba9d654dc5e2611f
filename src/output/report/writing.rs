//! A report in words.

use image::RgbaImage;

use super::{Chapter, Report, ReportError, strip};
use crate::base::place::capital;
use crate::drawing::page::{Bar, Body, Card, Cell, Image, Note, Page, Table, Tone};
use crate::explore::Exploration;
use crate::explore::matters::percent_within;
use crate::explore::swaps::{Answer, most_different_first};
use crate::gpu::GpuError;
use crate::measure::{Difference, Finding, figure_said};
use crate::order::{LookLimits, orders_said};
use crate::output::page::{Recorded, Stills, Written, stage, written_within};
use crate::readiness::caution;
use crate::show::chain::{labels, one_after_another};

/// The text of a report's page, smaller where it would take more than `most` bytes.
///
/// # Errors
/// [`ReportError`] for a picture that cannot be encoded.
pub fn html(report: &Report, most: usize) -> Result<Written, ReportError> {
    let mut pictures: Vec<&RgbaImage> = report.chapters.iter().flat_map(Chapter::pictures).collect();
    pictures.extend(report.sections.iter().map(|section| &section.picture));
    written_within(most, report.live.as_slice(), &pictures, |stills| page(report, stills))
}

/// The text of a page on the orders of one chain, live.
///
/// # Errors
/// As [`html`].
pub fn html_of_orders(
    chapter: &Chapter,
    live: &Recorded,
    caution: Option<&str>,
    adapter: &str,
    most: usize,
) -> Result<Written, ReportError> {
    let pictures: Vec<&RgbaImage> = chapter.pictures().collect();
    written_within(most, std::slice::from_ref(live), &pictures, |stills| {
        let mut page = Page::new(live.name());
        page.lead(&chapter.explored.opening_said().unwrap_or_default());
        foot(&mut page, adapter);
        if let Some(caution) = caution {
            page.body.note(Note::Caution, caution);
        }
        page.body.markup(&stage(live, Some(&still(chapter, stills)?), 0));
        written(&mut page.body, chapter, stills, true, false)?;
        page.body.section("Words used here", words);
        Ok(page)
    })
}

/// The chain in its file's own order.
fn still(chapter: &Chapter, stills: &Stills) -> Result<Image, ReportError> {
    let picture = chapter.stages.last().ok_or(GpuError::Defect("a chapter has no picture"))?;
    Ok(stills.image(picture, "The output, in the file\u{2019}s own order")?)
}

fn foot(page: &mut Page, adapter: &str) {
    page.foot(&format!("Made by Underover {}.", env!("CARGO_PKG_VERSION")));
    page.foot(&format!("Rendered and measured on {adapter}."));
}

fn page(report: &Report, stills: &Stills) -> Result<Page, ReportError> {
    let live = report.live.as_ref();
    let mut page = Page::new(&report.about.name);
    page.contents();
    let kind = if report.about.is_chain { "chain of effects" } else { "show" };
    let what = format!(
        "What the order of effects does to this {kind}: what matters, every look that it can have, which effects may \
         change places, what flashes, and what a frame costs."
    );
    // The answer first; what the page is comes after it.
    let answers: Vec<String> = report.chapters.iter().filter_map(|chapter| answer(report, chapter)).collect();
    page.lead(&if answers.is_empty() { what.clone() } else { answers.join(" ") });
    foot(&mut page, &report.cost.adapter);
    let body = &mut page.body;
    if let Some(caution) = report.caution {
        body.note(Note::Caution, caution);
    }
    if !answers.is_empty() {
        body.aside(&what);
    }
    if let (Some(live), Some(first)) = (live, report.chapters.first()) {
        if report.chapters.len() > 1 {
            body.aside(&format!("Live here: {}.", first.place));
        }
        body.markup(&stage(live, Some(&still(first, stills)?), 0));
    }
    match &report.chapters[..] {
        [chapter] => written(body, chapter, stills, live.is_some(), false)?,
        chapters => {
            for (nth, chapter) in chapters.iter().enumerate() {
                let is_live = live.is_some() && nth == 0;
                body.section(&format!("Order on {}", chapter.place), |body| {
                    written(body, chapter, stills, is_live, true)
                })?;
            }
        }
    }
    if report.chapters.is_empty() {
        body.section("Order", |body| {
            body.paragraph("No scope has two effects that are switched on, so there is no other order.");
        });
    }
    opening(body, report);
    if !report.sections.is_empty() {
        body.section("Sections of the set", |body| sections(body, report, stills))?;
    }
    body.section("Flashing", |body| flashes(body, report));
    body.section("What a frame costs", |body| cost(body, report));
    body.section("Words used here", words);
    Ok(page)
}

/// The sections, each with its picture, what it changes, and what flashes in it.
fn sections(body: &mut Body, report: &Report, stills: &Stills) -> Result<(), ReportError> {
    body.paragraph(
        "The show as it stands in each section; what a section does not name stays as the file has it. Each picture is of the same beat as the others of this page.",
    );
    let mut cards = Vec::new();
    for section in &report.sections {
        let (played, counted) = section.flashes.worst();
        let worst = counted.worst();
        let with = played.map(|played| format!(" with {played}")).unwrap_or_default();
        let verdict = if section.flashes.passes() { "within every limit counted" } else { "TOO MANY" };
        let flashes = format!(
            "Flashes: {} in the worst second{with}, where {} allows 3: {verdict}.",
            worst.flashes(),
            worst.limit.source()
        );
        let mut notes = section.lines.lines.clone();
        notes.push(flashes);
        cards.push(Card {
            image: stills.image(&section.picture, &section.lines.heading)?,
            title: section.lines.heading.clone(),
            lines: notes,
            code: None,
        });
    }
    body.large_cards(&cards);
    Ok(())
}

fn opening(body: &mut Body, report: &Report) {
    body.section("What it is", |body| {
        if !report.about.about.is_empty() {
            body.paragraph(&report.about.about);
        }
        let show = &report.show;
        let mut facts = vec![
            ("Picture", format!("{}, {}", show.frame, show.pixels.name())),
            (
                "Tempo",
                format!(
                    "{} BPM{}: a beat lasts {:.1} ms",
                    show.tempo_bpm,
                    if report.about.is_chain { " (a chain has no tempo of its own)" } else { "" },
                    60_000.0 / show.tempo_bpm
                ),
            ),
            ("Rate", format!("{} frames a second", show.rate)),
        ];
        facts.extend(report.chapters.iter().map(|chapter| ("Order", chapter.explored.summary())));
        body.facts(facts);
        let mut placed = Table::new(
            "Every effect, in the order in which the picture passes through them on each scope.",
            ["Scope", "Effects, first applied first"],
        );
        let mut rows = 0;
        for scope in show.scopes() {
            let chain = show.chain(scope);
            if chain.is_empty() {
                continue;
            }
            let names = labels(chain);
            let each: Vec<String> = chain
                .iter()
                .zip(&names)
                .map(|(used, name)| {
                    let changes = used.written_changes().join(", ");
                    let off = if used.on { "" } else { ", switched off" };
                    if changes.is_empty() {
                        format!("{name}{off}")
                    } else {
                        format!("{name} ({changes}{off})")
                    }
                })
                .collect();
            placed.row([
                Cell::text(&show.address(scope)).striped(show.colour(scope)),
                Cell::text(&each.join("; then ")),
            ]);
            rows += 1;
        }
        if rows > 0 {
            body.table(&placed);
        }
    });
}

/// The first thing to know of a chain; of which, where there are several.
fn answer(report: &Report, chapter: &Chapter) -> Option<String> {
    let said = chapter.explored.opening_said()?;
    Some(if report.chapters.len() == 1 { said } else { format!("On {}: {}", chapter.place, lower(&said)) })
}

/// A sentence that goes on after a colon.
fn lower(said: &str) -> String {
    let mut letters = said.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}

/// What is known of one chain; `is_live` says whether it is the one that the page runs, `is_one_of` whether it is one of
/// several, so that the page does not open with its answer alone.
fn written(
    body: &mut Body,
    chapter: &Chapter,
    stills: &Stills,
    is_live: bool,
    is_one_of: bool,
) -> Result<(), ReportError> {
    body.section("What matters", |body| {
        let is_told = is_one_of || chapter.explored.opening_said().is_none();
        deciding(body, chapter, stills, is_live, is_told)
    })?;
    body.section("Every look", |body| looks(body, chapter, stills, is_live))?;
    body.section("Which effects may change places", |body| places(body, chapter));
    body.section("Step by step", |body| stages(body, chapter, stills))
}

fn looks(body: &mut Body, chapter: &Chapter, stills: &Stills, is_live: bool) -> Result<(), ReportError> {
    let explored = &chapter.explored;
    let limits = LookLimits::default();
    body.paragraph(&format!(
        "{}. Orders that one cannot tell apart here share a look, and one picture stands for them. Look 1 is the file's own \
         order; each look after it is the one furthest from all before it, so the first pictures show how much order can do.",
        explored.summary()
    ));
    if let Some(limit) = explored.orders.sampled_said() {
        body.note(Note::Hint, &limit);
    }
    let total = explored.orders.classes.len();
    let mut cards = Vec::with_capacity(chapter.looks.len());
    for (look, (picture, &class)) in chapter.looks.iter().zip(&explored.looks.representatives).enumerate() {
        let orders = explored.looks.of.iter().filter(|&&of| of == look).count();
        let order = explored.orders.order_said(class);
        let code = explored.orders.code(class);
        let name = explored.look_name(look);
        let mut lines = Vec::new();
        if name != order {
            lines.push(format!("When {name}."));
        }
        lines.push(format!("Shown: {code}, {order}."));
        let apart = match &explored.finished[class].difference {
            Some(difference) if class != 0 => {
                format!("; against the file\u{2019}s own order it {}", difference.in_short())
            }
            _ => String::new(),
        };
        lines.push(format!("{orders} of {}{apart}.", orders_said(total as u128)));
        let title = if class == 0 {
            format!("Look {}: the file\u{2019}s own order", look + 1)
        } else {
            format!("Look {}", look + 1)
        };
        let image = stills.image(picture, &format!("Look {}: {order}", look + 1))?;
        cards.push(Card { image, title, lines, code: is_live.then_some(code) });
    }
    body.cards(&cards);
    body.aside(&format!(
        "Seen at beat {}, on {}. Differences are CIEDE2000, where about 1 is the least that one sees side by side. Two orders \
         share a look below a mean of {} and a 95th percentile of {}, compared at {}.",
        chapter.beats, chapter.place, limits.mean, limits.p95, explored.looked_at
    ));
    rules(body, explored);
    Ok(())
}

fn deciding(
    body: &mut Body,
    chapter: &Chapter,
    stills: &Stills,
    is_live: bool,
    is_told: bool,
) -> Result<(), ReportError> {
    let explored = &chapter.explored;
    if is_told {
        body.paragraph(&explored.opening_said().unwrap_or_else(|| explored.summary()));
    }
    let Some(families) = explored.told_families() else { return Ok(()) };
    let mut before = 0.0;
    let mut bars = Vec::with_capacity(families.questions.len());
    for question in &families.questions {
        let remark = explored.remark_said(question).map_or_else(String::new, |remark| format!(" {remark}"));
        bars.push(Bar {
            before,
            share: question.share,
            said: percent_within(question.share, question.error),
            words: format!("{}{remark}", explored.plain(&explored.question_said(question))),
        });
        before += question.share;
    }
    body.bars(&bars);
    body.paragraph(
        "Orders that answer these questions alike make a family. Each is shown by the order that is most like all of it; an \
         effect is under another when it is applied before it.",
    );
    let mut cards = Vec::with_capacity(families.list.len());
    for (picture, family) in chapter.families.iter().zip(&families.list) {
        let title = explored.plain(&explored.family_named(family));
        let (code, order) = (explored.orders.code(family.shown), explored.orders.order_said(family.shown));
        let mut lines = vec![explored.family_counted(family, "the file\u{2019}s own order")];
        lines.push(format!("Shown: {code}, {order}."));
        lines.extend(explored.inside_said(family).map(|said| format!("{}.", capital(&said))));
        let image = stills.image(picture, &format!("{title}: {order}"))?;
        cards.push(Card { image, title, lines, code: is_live.then_some(code) });
    }
    body.large_cards(&cards);
    if let Some(shares) = explored.shares_said() {
        body.aside(&shares);
    }
    Ok(())
}

/// Which look every order has, for who asks.
fn rules(body: &mut Body, explored: &Exploration) {
    if explored.looks.representatives.len() < 2 {
        return;
    }
    body.details(&explored.deciding_said(), |body| body.steps(explored.rules_said()));
}

fn sign(answer: &Answer) -> Cell {
    match answer {
        Answer::Always => Cell::marked("=", "always", Tone::Good),
        Answer::Here => Cell::marked("\u{2248}", "here", Tone::Fair),
        Answer::Differs(_) => Cell::marked("\u{2260}", "differs", Tone::Bad),
    }
}

fn places(body: &mut Body, chapter: &Chapter) {
    let labels = &chapter.explored.orders.labels;
    if chapter.swaps.is_empty() {
        body.paragraph("A chain of one effect has no pairs.");
        return;
    }
    body.paragraph(
        &format!(
            "Two effects stand side by side, the one way and then the other, with all settings as they are at beat {}. \
             `always` is proved: the same picture to the byte, on any footage. `here` is not proved, but the same picture on \
             this footage at this moment. `differs` changes the picture.",
            chapter.beats
        ),
    );
    let head = std::iter::once("").chain(labels.iter().map(String::as_str));
    let mut grid = Table::new("May the effect of the row and that of the column change places?", head);
    for (row, name) in labels.iter().enumerate() {
        let cell = |column: usize| {
            let swap = chapter.swaps.iter().find(|swap| {
                let pair = (swap.pair.lower, swap.pair.upper);
                pair == (row, column) || pair == (column, row)
            });
            swap.map_or_else(|| Cell::text("\u{2013}"), |swap| sign(&swap.answer))
        };
        grid.row(std::iter::once(Cell::text(name)).chain((0..labels.len()).map(cell)));
    }
    body.table(&grid);
    let mut reasons = Table::new(
        "The same, pair by pair, the most different first; how far the two ways lie apart is CIEDE2000.",
        ["Pair", "Answer", "Mean", "95 % within", "Why"],
    );
    for swap in most_different_first(&chapter.swaps) {
        let figure = |of: fn(&Difference) -> f64| match &swap.answer {
            Answer::Differs(difference) => Cell::number(&figure_said(of(difference), 2)),
            Answer::Here | Answer::Always => Cell::number("0"),
        };
        let answer = match &swap.answer {
            Answer::Differs(difference) if difference.hardly_shows() => {
                Cell::marked("\u{2260}", &difference.in_short(), Tone::Fair)
            }
            answer => sign(answer),
        };
        reasons.row([
            Cell::text(&format!("{} / {}", labels[swap.pair.lower], labels[swap.pair.upper])),
            answer,
            figure(|difference| difference.mean),
            figure(|difference| difference.p95),
            Cell::text(&swap.because),
        ]);
    }
    body.table(&reasons);
    let unseen: Vec<&str> = chapter.parts.iter().filter_map(|part| part.unseen.as_deref()).collect();
    if !unseen.is_empty() {
        body.note(Note::Hint, &unseen.join(" "));
    }
}

fn stages(body: &mut Body, chapter: &Chapter, stills: &Stills) -> Result<(), ReportError> {
    body.paragraph(
        "The file\u{2019}s own order, built up effect by effect. Each picture is the output when the chain ends there.",
    );
    let mut cards = Vec::with_capacity(chapter.stages.len());
    for (effects, picture) in chapter.stages.iter().enumerate() {
        let (title, lines) = match effects {
            0 => ("Before the chain".to_owned(), vec![chapter.place.clone()]),
            _ => {
                let at = effects - 1;
                let part = &chapter.parts[at];
                let mut lines: Vec<String> =
                    chapter.settings.get(at).filter(|text| !text.is_empty()).cloned().into_iter().collect();
                lines.push(match &part.unseen {
                    Some(unseen) => unseen.clone(),
                    None => format!(
                        "Without it the output would differ by {} on average.",
                        figure_said(part.difference.mean, 1)
                    ),
                });
                (format!("{effects}. {}", chapter.explored.orders.labels[at]), lines)
            }
        };
        let so_far = one_after_another(chapter.explored.orders.labels[..effects].iter().map(String::as_str));
        let alt = if effects == 0 {
            "The output before the chain".to_owned()
        } else {
            format!("The output after {so_far}")
        };
        cards.push(Card { image: stills.image(picture, &alt)?, title, lines, code: None });
    }
    body.cards(&cards);
    Ok(())
}

fn flashes(body: &mut Body, report: &Report) {
    let (found, watch, tempo) = (&report.flashes, &report.flashes.watch, report.show.tempo_bpm);
    let last = watch.from_beats + watch.over_beats;
    let (played, worst) = found.worst();
    let with = played.map(|played| format!(" with {played}")).unwrap_or_default();
    let worst = worst.worst();
    let seam = "counted round the seam, as where that stretch is looped";
    body.paragraph(&if found.passes() {
        let hands = if found.played.is_empty() { "" } else { ", with every control played at its worst, too" };
        format!(
            "Within the limits that were counted{hands}: {} in the worst second of beats {} to {last}, {seam}, where three are allowed.",
            worst.counted_as_flashes(),
            watch.from_beats
        )
    } else {
        format!(
            "Too many {}{with}: {} in the worst second of beats {} to {last}, {seam}, where {} allows three.",
            worst.limit.label(),
            worst.flashes(),
            watch.from_beats,
            worst.limit.source()
        )
    });
    let own = &found.own;
    body.aside(&format!(
        "Rendered at {}, counted by mean light on {}: squares of 0.1 degree or less.",
        own.frame, own.squares
    ));
    body.drawing(
        &strip::svg(own, watch),
        &format!("Flashes a second over beats {} to {last}; at most {}", watch.from_beats, own.worst().flashes()),
        "The show as it stands, no control touched: flashes in the second that ends at each frame, counted up to 6; below are \
         the beats. Bars that reach over the dashed line of three are too many.",
    );
    let mut limits = Table::new(
        "Each limit, and the worst second against it, no control touched. Half a flash counts.",
        ["Limit", "Answer", "What is counted", "Flashes", "Over more than", "By beat"],
    );
    let answer = |passes: bool| {
        if passes {
            Cell::marked("\u{2713}", "within", Tone::Good)
        } else {
            Cell::marked("!", "too many", Tone::Bad)
        }
    };
    let by = |finding: &Finding| {
        if finding.changes > 0 {
            format!("{:.2}", watch.beats_at(finding.frame, tempo))
        } else {
            "\u{2013}".to_owned()
        }
    };
    for finding in &own.findings {
        limits.row([
            Cell::text(finding.limit.source()),
            answer(finding.passes()),
            Cell::text(finding.limit.label()),
            Cell::number(&finding.flashes().to_string()),
            Cell::text(finding.limit.area()),
            Cell::number(&by(finding)),
        ]);
    }
    body.table(&limits);
    if !found.played.is_empty() {
        let mut hands = Table::new(
            "Controls, each played in every way that is counted, and the worst second of each.",
            ["What is played", "Answer", "Limit", "What is counted", "Flashes", "By beat"],
        );
        for (played, report) in &found.played {
            let finding = report.worst();
            hands.row([
                Cell::text(&played.to_string()),
                answer(report.passes()),
                Cell::text(finding.limit.source()),
                Cell::text(finding.limit.label()),
                Cell::number(&finding.flashes().to_string()),
                Cell::number(&by(finding)),
            ]);
        }
        body.table(&hands);
    }
    let parts = found.taking_part(&report.show).into_iter();
    let sources: Vec<String> = parts.map(|part| part.said(&report.show)).collect();
    if !sources.is_empty() {
        body.paragraph(&format!("What can flash: {}.", sources.join(", ")));
    }
    if let Some(alone) = &found.alone {
        let verdict = if alone.passes() {
            ""
        } else {
            ", too many by itself: take other footage, play it slower, or lay something darker over it"
        };
        body.paragraph(&format!("The footage alone: {}{verdict}.", alone.worst().counted_as_flashes()));
    }
    if !found.passes() && !found.is_footage() && report.suggestions.is_empty() {
        body.paragraph("No single change of those tried passes: make the flashes slower and weaker at once, or hold them.");
    }
    if !report.suggestions.is_empty() {
        let mut passing = Table::new(
            "Changes that pass, each rendered and counted, with the controls played that were too many.",
            ["Kind", "What to change", "Flashes in the worst second"],
        );
        for suggestion in &report.suggestions {
            passing.row([
                Cell::text(suggestion.kind),
                Cell::text(&suggestion.text),
                Cell::number(&suggestion.report.worst().flashes().to_string()),
            ]);
        }
        body.table(&passing);
    }
    body.note(Note::Caution, caution::NO_CERTIFICATE);
}

fn cost(body: &mut Body, report: &Report) {
    let cost = &report.cost;
    let verdict = match cost.share() {
        share if share <= 0.5 => "It fits with room to spare.",
        share if share <= 1.0 => "It fits, with little room for anything else.",
        _ => "It does not fit: frames would be dropped on this adapter.",
    };
    body.paragraph(&format!("{cost}. {verdict}"));
    body.facts([
        ("Size", cost.frame.to_string()),
        ("Rate", format!("{} frames a second", report.show.rate)),
        ("Share of a frame\u{2019}s time", format!("{:.0} %", cost.share() * 100.0)),
        ("Adapter", cost.adapter.clone()),
    ]);
    body.aside(
        "Played frame by frame from beat 0 after a warm-up; preparing footage and fetching the picture from the adapter are \
         counted in. Another adapter gives other times: measure on the one that plays the show.",
    );
}

fn words(body: &mut Body) {
    body.facts([
        ("Under, over", "An effect is under another when it is applied before it in the same chain; the other is over it."),
        ("Order", "The sequence in which a chain\u{2019}s effects are applied. Orders proved to give the same picture count once."),
        ("Family", "Orders that answer alike the few questions that decide most of what order does."),
        ("Order code", "The row of an order\u{2019}s marks, first applied first: 21534. A mark is the effect\u{2019}s place in the file, until it is moved: it stays with the effect."),
        ("Look", "Orders that a viewer cannot tell apart on this footage, by measure."),
        ("Scope", "What a chain acts on: a clip, a level, a bundle of levels, or everything (global)."),
        ("Beat", "Where the music stands; settings that move with the beat are taken at the beat named."),
    ]);
}
