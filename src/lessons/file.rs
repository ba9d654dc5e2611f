//! Reading lesson files.

use crate::catalogue::Catalogue;
use crate::files::reading::note_named;
use crate::files::table::{Entry, Table, Text, shortened};
use crate::files::{self, Document, FileError, LESSON_FORMAT, bytes_of, text_of};
use std::path::Path;
use std::sync::Arc;

use super::keys::{CHOICE, LESSON, MOST_BEATS, MOVE, NEXT, PICTURES};
use super::{Choice, Claim, ClaimKind, Inside, Lesson, LessonPicture, Next, When};
use crate::base::embedded;
use crate::base::frame::PixelMode;
use crate::base::place::{did_you_mean, listed};
use crate::edit::{Edit, Spot};
use crate::files::chain::chain;
use crate::files::show::Reader;
use crate::order::{in_order, marks};
use crate::show::chain::{EffectUse, labels};
use crate::show::{Scope, Show};

/// Reads a lesson file; its name without the ending is the lesson's. Only a plain file is read.
///
/// # Errors
/// [`FileError`] with the first thing that is wrong, its place, and what would be right.
pub fn read_lesson(path: &Path, catalogue: &Catalogue) -> Result<Lesson, FileError> {
    let name = path.display().to_string();
    let bytes = bytes_of(path)?;
    parse_lesson(text_of(&name, &bytes)?, &name, path.parent().unwrap_or(Path::new("")), catalogue)
}

/// Reads the text of a lesson file; messages call it `name`, and paths of footage are relative to `folder`.
///
/// # Errors
/// [`FileError::Content`] with the first thing that is wrong, its place, and what would be right.
pub fn parse_lesson(
    text: &str,
    name: &str,
    folder: &Path,
    catalogue: &Catalogue,
) -> Result<Lesson, FileError> {
    let text = Text { file: name, text: text.strip_prefix('\u{feff}').unwrap_or(text) };
    let entries = text.root()?;
    let file = Table::root(&text, "a lesson file", &entries);
    let format = file.deciding("format", &format!("format = \"{LESSON_FORMAT}\""))?;
    if format.as_text() != Some(LESSON_FORMAT) {
        return Err(
            format.refuse(format!("`format` is {}; a lesson takes `{LESSON_FORMAT}`", format.found()))
        );
    }
    let stem = name.rsplit(['/', '\\', ':']).next().unwrap_or(name);
    let lesson = Reader { catalogue, folder }.lesson(&file, stem.strip_suffix(".toml").unwrap_or(stem))?;
    lesson.pictures.iter().for_each(|picture| note_named(&picture.show));
    Ok(lesson)
}

/// Most pictures of a lesson, and most claims.
const MOST: usize = 16;
/// Most answers that one question has.
const MOST_CHOICES: usize = 4;
/// Most beats over which flashes are counted.
const LONGEST_BEATS: f64 = 256.0;
/// A least difference that no pair of pictures exceeds.
const MOST_DIFFERENCE: f64 = 200.0;

impl Reader<'_> {
    /// The content of a lesson file.
    pub fn lesson(&self, file: &Table, name: &str) -> Result<Lesson, FileError> {
        file.only_of(&LESSON)?;
        let title = file.required("title", "title = \"...\"")?.title()?;
        let about = paragraphs(&file.required("about", "about = [\"...\"]")?)?;
        let base = self.base(&file.required("show", "show = \"night-ferry\"")?)?;
        let pictures = self.pictures(&file.required("picture", "[[picture]]")?, &base)?;
        let claims = claims(&file.required("claim", "[[claim]]")?, &pictures)?;
        let choices = choices(&file.required("choice", "[[choice]]")?, &pictures, &claims)?;
        let question = file.required("question", "question = \"...\"")?.text()?;
        let because = paragraphs(&file.required("because", "because = [\"...\"]")?)?;
        let remember = file.required("remember", "remember = \"...\"")?.text()?;
        let next = file
            .required("next", "next = { says = \"...\", picture = \"...\" }")?
            .table("what to do next", "a table such as { says = \"...\", picture = \"...\" }")?;
        next.only_of(&NEXT)?;
        let next = Next {
            says: next.required("says", "says = \"...\"")?.text()?,
            picture: picture_named(&next.required("picture", "picture = \"...\"")?, &pictures)?,
        };
        Ok(Lesson {
            name: name.to_owned(),
            title,
            about,
            pictures,
            question,
            choices,
            claims,
            because,
            remember,
            next,
        })
    }

    /// The show that all pictures vary: written out, or one that travels with the program.
    fn base(&self, entry: &Entry) -> Result<Show, FileError> {
        let example = "the name of a show such as \"night-ferry\", or a show under `[show]`";
        let Some(name) = entry.as_text() else {
            return self.show(&entry.table("the show of a lesson", example)?);
        };
        let names = || embedded::SHOWS.iter().map(|(name, _)| *name);
        let Some((_, text)) = embedded::SHOWS.iter().find(|(known, _)| *known == name) else {
            let name = shortened(name);
            return Err(entry.refuse(format!(
                "no show named `{name}` travels with the program{} (it has {})",
                did_you_mean(&name, names()),
                listed(names())
            )));
        };
        match files::parse(text, &format!("preset:{name}"), self.folder, self.catalogue)? {
            Document::Show(show) => Ok(show),
            Document::Chain(_) => Err(entry.refuse(format!("`{name}` is a chain; name a show"))),
        }
    }

    fn pictures(&self, entry: &Entry, base: &Show) -> Result<Vec<LessonPicture>, FileError> {
        let mut pictures: Vec<LessonPicture> = Vec::new();
        for table in within(entry.tables("a picture")?, MOST, "pictures")? {
            let picture = self.picture(&table, base)?;
            if pictures.iter().any(|known| known.name == picture.name) {
                return Err(table.name()?.refuse(format!("two pictures are named `{}`", picture.name)));
            }
            pictures.push(picture);
        }
        Ok(pictures)
    }

    fn picture(&self, table: &Table, base: &Show) -> Result<LessonPicture, FileError> {
        table.only_of(&PICTURES)?;
        let mut show = match table.entry("section") {
            Some(entry) => in_section(&entry, base)?,
            None => base.clone(),
        };
        if let Some(pixels) =
            table.optional("pixels", |word| word.choice(&PixelMode::ALL, PixelMode::name))?
        {
            show.pixels = pixels;
        }
        let scope = match table.entry("scope") {
            Some(entry) => scope_of(&entry, base)?,
            None => base.busiest_scope(),
        };
        let changes = ["order", "move", "effect", "bare"].map(|key| table.entry(key));
        let mut changes = changes.into_iter().flatten();
        let (change, second) = (changes.next(), changes.next());
        if let (Some(first), Some(second)) = (&change, second) {
            return Err(second.refuse(format!(
                "`{}` stands beside `{}`; a picture changes the show in one way",
                second.key, first.key
            )));
        }
        match change {
            Some(entry) if entry.key == "order" => {
                let chain = show.chain(scope).clone();
                let order = order_of(&entry, &chain)?;
                *show.chain_mut(scope) = in_order(&chain, &order);
            }
            Some(entry) if entry.key == "move" => show = moved(&entry, &show)?,
            Some(entry) if entry.key == "effect" => {
                *show.chain_mut(scope) = chain(table, self.catalogue)?;
            }
            Some(entry) if entry.truth()? => show.chain_mut(scope).clear(),
            Some(_) | None => {}
        }
        Ok(LessonPicture {
            name: table.name()?.title()?,
            says: table.required("says", "says = \"...\"")?.title()?,
            shown: table
                .optional("shown", |word| word.choice(&When::ALL, When::name))?
                .unwrap_or(When::Answer),
            show: Arc::new(show),
            scope,
            beats: table.optional("at", |entry| entry.number(0.0, MOST_BEATS))?.unwrap_or(0.0),
        })
    }
}

/// The show as it stands in one of its sections.
fn in_section(entry: &Entry, show: &Show) -> Result<Show, FileError> {
    let name = entry.title()?;
    let Some(at) = show.section_named(&name) else {
        let name = shortened(&name);
        let known = || show.sections.iter().map(|section| section.name.as_str());
        return Err(entry.refuse(match show.sections.len() {
            0 => format!("there is no section `{name}`; the show has none"),
            _ => format!(
                "there is no section `{name}`{} (the show has {})",
                did_you_mean(&name, known()),
                listed(known())
            ),
        }));
    };
    show.in_section(at, |chain| {
        Err(entry.refuse(format!(
            "the section lays {} on a scope; a picture's section names no chains, write `effect` instead",
            shortened(chain)
        )))
    })
}

/// One or two paragraphs.
fn paragraphs(entry: &Entry) -> Result<Vec<String>, FileError> {
    let texts = entry.list(1, 2, "[\"One paragraph.\", \"Perhaps another.\"]")?;
    texts.iter().map(Entry::text).collect()
}

fn within<'a, 't>(
    tables: Vec<Table<'a, 't>>,
    most: usize,
    what: &str,
) -> Result<Vec<Table<'a, 't>>, FileError> {
    match tables.get(most) {
        Some(extra) => Err(extra.refuse(format!("a lesson takes at most {most} {what}"))),
        None => Ok(tables),
    }
}

fn scope_of(entry: &Entry, show: &Show) -> Result<Scope, FileError> {
    let address = entry.text()?;
    show.scope_named(&address).map_err(|error| entry.refuse(format!("`{}`: {error}", entry.key)))
}

/// An effect of a chain, by its name there; two of one name are told apart as `tint 2`.
fn effect_of(entry: &Entry, labels: &[String]) -> Result<usize, FileError> {
    let name = entry.text()?;
    labels.iter().position(|label| *label == name).ok_or_else(|| {
        let name = shortened(&name);
        let known = || labels.iter().map(String::as_str);
        entry.refuse(format!(
            "the chain has no effect `{name}`{} (it has {})",
            did_you_mean(&name, known()),
            listed(known())
        ))
    })
}

/// An order of a chain: its code, or its effects in a list.
fn order_of(entry: &Entry, chain: &[EffectUse]) -> Result<Vec<usize>, FileError> {
    if let Some(code) = entry.as_text() {
        return marks(chain).order(code).map_err(|error| entry.refuse(error));
    }
    let labels = &labels(chain);
    let named = entry.list(
        labels.len(),
        labels.len(),
        "[\"tint\", \"mirror\"], each effect of the chain once, or an order code such as \"21\"",
    )?;
    let mut order = Vec::with_capacity(named.len());
    for entry in &named {
        let at = effect_of(entry, labels)?;
        if order.contains(&at) {
            return Err(entry.refuse(format!("`{}` is named twice; each effect is applied once", labels[at])));
        }
        order.push(at);
    }
    Ok(order)
}

/// The show with one effect on another scope, over what is there.
fn moved(entry: &Entry, show: &Show) -> Result<Show, FileError> {
    let example = "{ effect = \"mirror\", from = \"bundle:picture\", to = \"global\" }";
    let table = entry.table("a move", example)?;
    table.only_of(&MOVE)?;
    let from = scope_of(&table.required("from", "from = \"bundle:picture\"")?, show)?;
    let to = scope_of(&table.required("to", "to = \"global\"")?, show)?;
    let at = effect_of(&table.required("effect", "effect = \"mirror\"")?, &labels(show.chain(from)))?;
    let edit =
        Edit::Move { from: Spot { scope: from, at }, into: Spot { scope: to, at: show.chain(to).len() } };
    edit.applied(show).map(|(show, _)| show).map_err(|error| table.refuse(error))
}

fn picture_named(entry: &Entry, pictures: &[LessonPicture]) -> Result<usize, FileError> {
    let name = entry.text()?;
    pictures.iter().position(|picture| picture.name == name).ok_or_else(|| {
        let name = shortened(&name);
        let known = || pictures.iter().map(|picture| picture.name.as_str());
        entry.refuse(format!(
            "the lesson has no picture `{name}`{} (it has {})",
            did_you_mean(&name, known()),
            listed(known())
        ))
    })
}

fn claims(entry: &Entry, pictures: &[LessonPicture]) -> Result<Vec<Claim>, FileError> {
    let mut claims: Vec<Claim> = Vec::new();
    for table in within(entry.tables("a claim")?, MOST, "claims")? {
        let claim = claim(&table, pictures)?;
        if claims.iter().any(|known| known.name == claim.name) {
            return Err(table.name()?.refuse(format!("two claims are named `{}`", claim.name)));
        }
        claims.push(claim);
    }
    Ok(claims)
}

fn claim(table: &Table, pictures: &[LessonPicture]) -> Result<Claim, FileError> {
    let word = table.deciding("is", "is = \"same\"")?.choice(&ClaimKind::NAMES, |name| name)?;
    let keys: &[&str] = match word {
        "same" => &["name", "is", "holds", "of", "inside"],
        "differs" => &["name", "is", "holds", "of", "inside", "least"],
        "always" => &["name", "is", "holds", "of", "effects"],
        "only-8bit" => &["name", "is", "holds", "of", "least"],
        _ => &["name", "is", "holds", "of", "over_beats"],
    };
    table.only(keys)?;
    let of = table.required("of", "of = [\"one\", \"other\"]")?;
    let pair = || -> Result<[usize; 2], FileError> {
        let both = of.list(2, 2, "[\"one\", \"other\"]")?;
        let [a, b] = [picture_named(&both[0], pictures)?, picture_named(&both[1], pictures)?];
        match a == b {
            true => Err(both[1].refuse("a picture is always the same as itself; name two")),
            false => Ok([a, b]),
        }
    };
    let least = || -> Result<f64, FileError> {
        table.required("least", "least = 5.0")?.number(f64::MIN_POSITIVE, MOST_DIFFERENCE)
    };
    let inside = |[a, _]: [usize; 2]| table.optional("inside", |entry| inside(entry, &pictures[a].show));
    let kind = match word {
        "same" => pair().and_then(|of| Ok(ClaimKind::Same { of, inside: inside(of)? }))?,
        "differs" => {
            pair().and_then(|of| Ok(ClaimKind::Differs { of, least: least()?, inside: inside(of)? }))?
        }
        "always" => {
            let of = picture_named(&of, pictures)?;
            let labels = labels(pictures[of].show.chain(pictures[of].scope));
            let both = table.required("effects", "effects = [\"tint\", \"mirror\"]")?;
            let both = both.list(2, 2, "[\"tint\", \"mirror\"]")?;
            ClaimKind::Always { of, effects: [effect_of(&both[0], &labels)?, effect_of(&both[1], &labels)?] }
        }
        "only-8bit" => ClaimKind::Only8Bit { of: pair()?, least: least()? },
        _ => ClaimKind::Passes {
            of: picture_named(&of, pictures)?,
            over_beats: table
                .optional("over_beats", |entry| entry.number(1.0, LONGEST_BEATS))?
                .unwrap_or(8.0),
        },
    };
    Ok(Claim {
        name: table.name()?.title()?,
        kind,
        holds: table.optional("holds", Entry::truth)?.unwrap_or(true),
        place: table.place().to_string(),
    })
}

/// A scope's address, or left, top, width and height.
fn inside(entry: &Entry, show: &Show) -> Result<Inside, FileError> {
    if entry.as_text().is_some() {
        return scope_of(entry, show).map(Inside::Scope);
    }
    let shares =
        entry.list(4, 4, "[0.1, 0.0, 0.8, 1.0], which is left, top, width and height, or a scope")?;
    let mut rectangle = [0.0; 4];
    for (share, entry) in rectangle.iter_mut().zip(&shares) {
        *share = entry.number(0.0, 1.0)?;
    }
    Ok(Inside::Rectangle(rectangle))
}

fn choices(entry: &Entry, pictures: &[LessonPicture], claims: &[Claim]) -> Result<Vec<Choice>, FileError> {
    let tables = within(entry.tables("a choice")?, MOST_CHOICES, "choices")?;
    if tables.len() < 2 {
        return Err(entry.refuse("a question needs at least two choices; add another `[[choice]]`"));
    }
    let choice = |table: &Table| -> Result<Choice, FileError> {
        table.only_of(&CHOICE)?;
        let claim = table.required("claim", "claim = \"...\"")?;
        let name = claim.text()?;
        let known = || claims.iter().map(|claim| claim.name.as_str());
        let place = claims.iter().position(|claim| claim.name == name).ok_or_else(|| {
            let name = shortened(&name);
            claim.refuse(format!(
                "the lesson has no claim `{name}`{} (it has {})",
                did_you_mean(&name, known()),
                listed(known())
            ))
        })?;
        Ok(Choice {
            says: table.required("says", "says = \"...\"")?.text()?,
            picture: table.optional("picture", |entry| picture_named(entry, pictures))?,
            claim: place,
        })
    };
    let mut read = Vec::new();
    let mut right = None;
    for table in &tables {
        let choice = choice(table)?;
        if claims[choice.claim].holds {
            if let Some(first) = right {
                return Err(table.refuse(format!(
                    "the claims of choices {} and {} both hold; one answer is right",
                    first,
                    read.len() + 1
                )));
            }
            right = Some(read.len() + 1);
        }
        read.push(choice);
    }
    match right {
        Some(_) => Ok(read),
        None => Err(entry.refuse("no choice rests on a claim that holds; one answer has to be right")),
    }
}
