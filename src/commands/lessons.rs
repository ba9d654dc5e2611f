//! `underover lessons`: predict, then look.

use std::path::{Path, PathBuf};
use std::slice;

use clap::Args;
use image::RgbaImage;

use super::documents::Documents;
use super::output::{Output, Replace, check_outputs, image_of, say};
use super::report::PageSize;
use super::subject::opened;
use super::{WrongWords, note};
use crate::base::doing::doing;
use crate::base::place::{did_you_mean, listed};
use crate::catalogue::Catalogue;
use crate::drawing::page::{Body, Note, Page};
use crate::footage::Shelf;
use crate::gpu::{ADAPTER_VARIABLE, Renderer};
use crate::lessons::{Examined, Examiner, Found, Lesson, Lessons, When, read_lesson};
use crate::output::page::{About, Recorded, Stills, stage, written_within};
use crate::plan::Path as PicturePath;
use crate::readiness::caution;
use crate::show::chain::EffectUse;

/// Characters in a line of text.
const LINE: usize = 78;
/// What a page of lessons is called in a folder.
const PAGE: &str = "lessons.html";

/// The options of `lessons`.
#[derive(Debug, Args)]
#[command(after_help = "\
Lessons of your own lie in the folder `lessons` of your data folder, and are listed after those of the program.

Examples:
  underover lessons                               lists them
  underover lessons sparing-the-signs             asks its question
  underover lessons sparing-the-signs --reveal    renders and answers it
  underover lessons --out lessons.html            all, with pictures, on one page
  underover lessons my-lesson.toml --check        whether its claims hold")]
pub(super) struct LessonsCommand {
    /// A lesson by its name, the start of it or its number in the list, or a lesson file (.toml)
    name: Option<String>,
    /// Renders the lesson and gives the answer
    #[arg(long, requires = "name")]
    reveal: bool,
    /// Renders what lessons claim, and says of each claim what was found
    #[arg(long, conflicts_with_all = ["reveal", "out"])]
    check: bool,
    /// One page with pictures, for a browser or to print: an .html file, or a folder to put it in
    #[arg(long, value_name = "P.html", conflicts_with = "reveal")]
    out: Option<PathBuf>,
    /// A folder of .wgsl files: effects of your own
    #[arg(long, value_name = "FOLDER")]
    effects: Option<PathBuf>,
    /// Part of the name of the GPU adapter to use (`underover adapters` lists them)
    #[arg(long, value_name = "NAME-PART", env = ADAPTER_VARIABLE)]
    adapter: Option<String>,
    #[command(flatten)]
    size: PageSize,
    #[command(flatten)]
    replace: Replace,
}

impl LessonsCommand {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let Documents { catalogue, .. } = Documents::tried(self.effects.as_deref(), self.adapter.as_deref())?;
        let lessons = match &self.name {
            Some(name) => vec![named(name, &catalogue)?],
            None => {
                let all = Lessons::read(&catalogue);
                if !self.check && self.out.is_none() {
                    return list(&all);
                }
                for wrong in all.wrong() {
                    note(&format!("not read: {wrong}"));
                }
                all.right().cloned().collect()
            }
        };
        if let Some(out) = &self.out {
            let file = if out.is_dir() { out.join(PAGE) } else { out.clone() };
            let output = Output::made("--out", &file, "html", self.replace);
            check_outputs(slice::from_ref(&output))?;
            return self.examining(&catalogue, |examiner| write(&output, &lessons, self.size, examiner));
        }
        if self.check {
            return self.examining(&catalogue, |examiner| check(&lessons, examiner));
        }
        for lesson in &lessons {
            say(&asked(lesson))?;
            if self.reveal {
                let found = self.examining(&catalogue, |examiner| Ok(examiner.examine(lesson)?))?;
                say(&answered(lesson, &found))?;
            } else {
                say(&format!("\nGuess, then: underover lessons {} --reveal\n", lesson.name))?;
            }
        }
        Ok(())
    }

    fn examining<T>(
        &self,
        catalogue: &Catalogue,
        work: impl FnOnce(&mut Examiner<'_>) -> anyhow::Result<T>,
    ) -> anyhow::Result<T> {
        let mut renderer = Renderer::new(opened(self.adapter.as_deref())?);
        let mut shelf = Shelf::new(catalogue);
        work(&mut Examiner { renderer: &mut renderer, shelf: &mut shelf })
    }
}

/// The lesson meant by a name, the start of one, a number or a file.
fn named(name: &str, catalogue: &Catalogue) -> anyhow::Result<Lesson> {
    let path = Path::new(name);
    if path.extension().is_some_and(|ending| ending == "toml") {
        return Ok(read_lesson(path, catalogue)?);
    }
    let all = Lessons::read(catalogue).found;
    // "01-colour-and-flash" is called "colour-and-flash" as well.
    let bare = |found: &Found| {
        found.name.trim_start_matches(|c: char| c.is_ascii_digit()).trim_start_matches('-').to_owned()
    };
    let is_exactly = |found: &&Found| found.name == name || bare(found) == name;
    let by_number = name.parse::<usize>().ok().and_then(|number| all.get(number.checked_sub(1)?));
    let starts = |found: &&Found| found.name.starts_with(name) || bare(found).starts_with(name);
    let mut by_start = all.iter().filter(starts);
    let only = by_start.next().filter(|_| by_start.next().is_none());
    match all.iter().find(is_exactly).or(by_number).or(only) {
        Some(at) => {
            let found = at.name.clone();
            let place = all.iter().position(|one| std::ptr::eq(one, at)).unwrap_or(0);
            match all.into_iter().nth(place).map(|one| one.lesson) {
                Some(lesson) => Ok(lesson?),
                None => Err(WrongWords(format!("there is no lesson `{found}`")).into()),
            }
        }
        None => {
            let names: Vec<String> = all.iter().map(bare).collect();
            let known = || names.iter().map(String::as_str);
            Err(WrongWords(format!(
                "there is no lesson `{name}`{} (known: {})",
                did_you_mean(name, known()),
                listed(known())
            ))
            .into())
        }
    }
}

fn list(lessons: &Lessons) -> anyhow::Result<()> {
    let mut text = "Lessons: predict, then look.\n\n".to_owned();
    let longest = lessons.found.iter().map(|found| found.name.len()).max().unwrap_or(0);
    for (found, number) in lessons.found.iter().zip(1..) {
        if let Ok(lesson) = &found.lesson {
            let own = if found.is_built_in { "" } else { "  (your own)" };
            text += &format!("{number:>3}  {:<longest$}  {}{own}\n", found.name, lesson.title);
        }
    }
    text += "\nOne of them: underover lessons 1. All on one page: underover lessons --out lessons.html\n";
    say(&text)?;
    for wrong in lessons.wrong() {
        note(&format!("not read: {wrong}"));
    }
    Ok(())
}

/// The letter of a choice.
fn letter(choice: usize) -> char {
    char::from(b'a' + choice.min(25) as u8)
}

fn asked(lesson: &Lesson) -> String {
    let mut text = format!("{}\n\n", lesson.title);
    for paragraph in &lesson.about {
        text += &format!("{}\n", wrapped(paragraph, ""));
    }
    if let Some(caution) = caution_of(lesson) {
        text += &format!("{}\n", wrapped(caution, ""));
    }
    text += &wrapped(&lesson.question, "");
    for (place, choice) in lesson.choices.iter().enumerate() {
        text += &wrapped(&format!("{}) {}", letter(place), choice.says), "   ");
    }
    text
}

fn answered(lesson: &Lesson, found: &[Examined]) -> String {
    let answer = lesson.answer();
    let mut text = format!("\nThe answer is {}.\n\n", letter(answer));
    for paragraph in &lesson.because {
        text += &format!("{}\n", wrapped(paragraph, ""));
    }
    text += &wrapped(&format!("To remember: {}", lesson.remember), "");
    text +=
        &format!("\n{}", wrapped(&format!("To try, in the window under Lessons: {}", lesson.next.says), ""));
    text += "\nRendered just now:\n";
    for line in evidence(lesson, found) {
        text += &wrapped(&line, "    ");
    }
    text
}

/// What was found of each claim, in words.
fn evidence<'a>(lesson: &'a Lesson, found: &'a [Examined]) -> impl Iterator<Item = String> + 'a {
    let word = |holds: bool| if holds { "holds" } else { "does not hold" };
    let each = lesson.claims.iter().zip(found);
    each.map(move |(claim, found)| format!("{}: {}: {}", claim.name, word(found.holds), found.found))
}

fn caution_of(lesson: &Lesson) -> Option<&'static str> {
    lesson.pictures.iter().find_map(|picture| caution::of_show(&picture.show))
}

/// Lines of a text; those after the first are indented.
pub(super) fn wrapped(text: &str, indent: &str) -> String {
    let mut lines = String::new();
    let mut length = 0;
    for word in text.split_whitespace() {
        if length > 0 && length + 1 + word.chars().count() > LINE {
            lines += &format!("\n{indent}");
            length = indent.len();
        } else if length > 0 {
            lines.push(' ');
            length += 1;
        }
        lines += word;
        length += word.chars().count();
    }
    lines + "\n"
}

fn check(lessons: &[Lesson], examiner: &mut Examiner<'_>) -> anyhow::Result<()> {
    let mut wrong = Vec::new();
    for lesson in lessons {
        say(&format!("{}\n", lesson.name))?;
        match examiner.examine(lesson) {
            Ok(found) => {
                for line in evidence(lesson, &found) {
                    say(&format!("  {line}\n"))?;
                }
            }
            Err(error) => wrong.push(error.to_string()),
        }
    }
    if wrong.is_empty() { Ok(()) } else { Err(anyhow::anyhow!("{}", wrong.join("\nerror: "))) }
}

/// A lesson as its page shows it.
struct Told<'a> {
    lesson: &'a Lesson,
    found: Vec<Examined>,
    /// Of each picture of the lesson that the page shows.
    pictures: Vec<Option<RgbaImage>>,
    /// The show to try, live, and its place among those of the page.
    tried: Option<usize>,
}

fn write(
    output: &Output,
    lessons: &[Lesson],
    size: PageSize,
    examiner: &mut Examiner<'_>,
) -> anyhow::Result<()> {
    let (mut all, mut live) = (Vec::new(), Vec::new());
    for (number, lesson) in lessons.iter().enumerate() {
        note(&format!("rendering {} of {}: {}", number + 1, lessons.len(), lesson.title));
        let found = examiner.examine(lesson)?;
        let pictures = pictures(lesson, examiner)?;
        let tried = tried(lesson, examiner)?.map(|recorded| {
            live.push(recorded);
            live.len() - 1
        });
        all.push(Told { lesson, found, pictures, tried });
    }
    let adapter = examiner.renderer.gpu().adapter().to_string();
    let pictures: Vec<&RgbaImage> = all.iter().flat_map(|told| told.pictures.iter().flatten()).collect();
    let _writing = doing("writing the page");
    let page = written_within(size.bytes(), &live, &pictures, |stills| page(&all, &live, stills, &adapter))?;
    size.write(output, &page)
}

fn page(all: &[Told<'_>], live: &[Recorded], stills: &Stills, adapter: &str) -> anyhow::Result<Page> {
    let mut page = Page::new(match all {
        [one] => &one.lesson.title,
        _ => "Over and under: lessons",
    });
    page.lead("Look at the pictures, guess what comes out, try it, then open the answer.");
    if all.len() > 1 {
        page.contents();
    }
    for told in all {
        page.body.section(&told.lesson.title, |body| put(body, told, live, stills))?;
    }
    page.foot(&format!("Pictures and claims were rendered when this page was written, on {adapter}."));
    Ok(page)
}

/// One lesson: the question open to all, the answer folded away.
fn put(body: &mut Body, told: &Told<'_>, live: &[Recorded], stills: &Stills) -> anyhow::Result<()> {
    let lesson = told.lesson;
    for paragraph in &lesson.about {
        body.paragraph(paragraph);
    }
    if let Some(caution) = caution_of(lesson) {
        body.note(Note::Caution, caution);
    }
    told.beside(body, lesson.shown(When::Question), stills)?;
    body.section(&lesson.question, |body| {
        let choices = lesson.choices.iter().enumerate();
        body.choices(
            &lesson.name,
            choices.map(|(at, choice)| format!("{}) {}", letter(at), choice.says)),
            lesson.answer(),
        );
        told.beside(body, lesson.choices.iter().filter_map(|choice| choice.picture), stills)?;
        if let Some(nth) = told.tried {
            body.tried(&stage(&live[nth], None, nth));
        }
        body.details("Guess first, then open the answer", |body| {
            let answer = lesson.answer();
            body.paragraph(&format!("{}) {}.", letter(answer), lesson.choices[answer].says));
            told.beside(body, lesson.shown(When::Answer), stills)?;
            for paragraph in &lesson.because {
                body.paragraph(paragraph);
            }
            body.paragraph(&format!("To remember: {}", lesson.remember));
            body.paragraph(&format!("To try, in the window under Lessons: {}", lesson.next.says));
            body.details("What was rendered for this answer", |body| {
                body.list(evidence(lesson, &told.found));
            });
            Ok(())
        })
    })
}

/// The show to try, where it has an order: live, for those who have guessed.
fn tried(lesson: &Lesson, examiner: &mut Examiner<'_>) -> anyhow::Result<Option<Recorded>> {
    let picture = &lesson.pictures[lesson.next.picture];
    let Examiner { renderer, shelf } = examiner;
    let path = PicturePath::of_scope(&picture.show, picture.scope, picture.moment(), shelf)?;
    // What remembers would take all the frames along that it remembers.
    if path.chain.len() < 2 || path.chain.iter().any(EffectUse::remembers) {
        return Ok(None);
    }
    // What its pairs do is for the reader to find out.
    let about = About { name: &lesson.title, about: "", plays_within: 0, explored: None, swaps: &[] };
    let recorded = Recorded::of(renderer, &path, &about, |moment| {
        Ok(PicturePath::of_scope_alone(&picture.show, picture.scope, moment, shelf)?)
    })?;
    Ok(Some(recorded))
}

/// The pictures of a lesson that its page shows, rendered.
fn pictures(lesson: &Lesson, examiner: &mut Examiner<'_>) -> anyhow::Result<Vec<Option<RgbaImage>>> {
    let _doing = doing(format!("rendering pictures of {}", lesson.name));
    let shown: Vec<usize> = lesson
        .shown(When::Question)
        .chain(lesson.choices.iter().filter_map(|choice| choice.picture))
        .chain(lesson.shown(When::Answer))
        .collect();
    let pictures = lesson.pictures.iter().enumerate();
    pictures
        .map(|(place, picture)| {
            shown.contains(&place).then(|| image_of(&examiner.picture(picture)?)).transpose()
        })
        .collect()
}

impl Told<'_> {
    fn beside(
        &self,
        body: &mut Body,
        places: impl Iterator<Item = usize>,
        stills: &Stills,
    ) -> anyhow::Result<()> {
        let shown = places.filter_map(|place| {
            let says = &self.lesson.pictures[place].says;
            self.pictures[place].as_ref().map(|picture| Ok((stills.image(picture, says)?, says.as_str())))
        });
        let shown = shown.collect::<anyhow::Result<Vec<_>>>()?;
        if !shown.is_empty() {
            body.beside(shown.iter().map(|(image, says)| (image, *says)));
        }
        Ok(())
    }
}
