//! The lessons that travel with the program are true, and false ones are refused.

use crate::shared::{CATALOGUE, Person};
use std::collections::HashSet;
use std::fs;
use std::path::Path;

use underover::base::embedded::LESSONS;
use underover::footage::Shelf;
use underover::gpu::{Gpu, Renderer};
use underover::lessons::{Examined, Examiner, Lesson, LessonError, Lessons, When, parse_lesson};

/// A lesson with pictures for a claim of every kind.
const QUAY: &str = r##"format = "underover/lesson/1"
title = "At the quay"
about = ["A harbour with a mark over it."]
question = "Do they differ?"
because = ["Look."]
remember = "Look first."
next = { says = "Swap them.", picture = "own" }

[show]
name = "Quay"
frame = { width = 96, height = 54 }
tempo_bpm = 120.0
[[show.bundle]]
name = "picture"
[[show.bundle.effect]]
use = "tint"
amount = 1.0
[[show.bundle.effect]]
use = "mirror"
[[show.bundle.level]]
name = "view"
[[show.bundle.level.clip]]
name = "harbour"
footage = "generated:harbour"
[[show.bundle]]
name = "signs"
[[show.bundle.level]]
name = "mark"
[[show.bundle.level.clip]]
name = "ship mark"
footage = "generated:ship-mark"

[[picture]]
name = "own"
says = "As it is"
shown = "question"
scope = "bundle:picture"

[[picture]]
name = "swapped"
says = "Swapped"
scope = "bundle:picture"
order = ["mirror", "tint"]

[[picture]]
name = "bare"
says = "Without"
scope = "bundle:picture"
bare = true

[[picture]]
name = "on global"
says = "On global"
move = { effect = "tint", from = "bundle:picture", to = "global" }

[[picture]]
name = "up"
says = "Up, then down"
scope = "bundle:picture"
[[picture.effect]]
use = "gain-and-lift"
name = "up"
gain = 4.0
lift = 0.0
[[picture.effect]]
use = "gain-and-lift"
name = "down"
gain = 0.25
lift = 0.0

[[picture]]
name = "down"
says = "Down, then up"
scope = "bundle:picture"
[[picture.effect]]
use = "gain-and-lift"
gain = 0.25
lift = 0.0
[[picture.effect]]
use = "gain-and-lift"
gain = 4.0
lift = 0.0

[[picture]]
name = "flashing"
says = "Flashing"
scope = "global"
at = 0.2
[[picture.effect]]
use = "flash-gate"
rate = 4.0

[[choice]]
says = "Yes"
claim = "yes"

[[choice]]
says = "No"
claim = "no"

[[claim]]
name = "yes"
is = "differs"
of = ["own", "bare"]
least = 1.0

[[claim]]
name = "no"
is = "same"
of = ["own", "bare"]
holds = false
"##;

/// What holds at the quay: for every kind of claim, what is claimed and what a refusal says was found.
const TRUE: [(&str, &str); 7] = [
    ("is = \"same\"\nof = [\"own\", \"swapped\"]", "the same bytes"),
    (
        "is = \"same\"\nof = [\"own\", \"bare\"]\ninside = \"bundle:signs\"",
        "the same bytes inside bundle:signs",
    ),
    ("is = \"differs\"\nof = [\"own\", \"bare\"]\nleast = 2.0", "a mean difference of"),
    (
        "is = \"differs\"\nof = [\"own\", \"bare\"]\nleast = 2.0\ninside = [0.5, 0.0, 0.5, 1.0]",
        "inside that part",
    ),
    ("is = \"always\"\nof = \"own\"\neffects = [\"tint\", \"mirror\"]", "proved for every picture"),
    ("is = \"only-8bit\"\nof = [\"up\", \"down\"]\nleast = 1.0", "in linear-float, the same bytes"),
    ("is = \"passes\"\nof = \"own\"\nover_beats = 2", "within every limit"),
];

/// What does not.
const FALSE: [(&str, &str); 8] = [
    ("is = \"same\"\nof = [\"own\", \"bare\"]", "a mean difference of"),
    ("is = \"same\"\nof = [\"own\", \"on global\"]\ninside = \"bundle:signs\"", "inside bundle:signs"),
    ("is = \"same\"\nof = [\"own\", \"swapped\"]\ninside = [0.0, 0.0, 0.0, 0.0]", "covers no pixel whole"),
    ("is = \"differs\"\nof = [\"own\", \"swapped\"]\nleast = 0.1", "the same bytes"),
    ("is = \"always\"\nof = \"up\"\neffects = [\"up\", \"down\"]", "not proved"),
    ("is = \"only-8bit\"\nof = [\"own\", \"swapped\"]\nleast = 0.1", "in encoded-8bit, the same bytes"),
    ("is = \"only-8bit\"\nof = [\"own\", \"bare\"]\nleast = 1.0", "in linear-float, a mean difference"),
    ("is = \"passes\"\nof = \"flashing\"\nover_beats = 4", "past a limit"),
];

fn parsed(text: &str) -> Result<Lesson, String> {
    parse_lesson(text, "lessons/quay.toml", Path::new("lessons"), &CATALOGUE)
        .map_err(|error| error.to_string())
}

fn examining<T>(examine: impl FnOnce(&mut Examiner<'_>) -> T) -> T {
    let mut renderer = Renderer::new(Gpu::open(None).unwrap());
    let mut shelf = Shelf::new(&CATALOGUE);
    examine(&mut Examiner { renderer: &mut renderer, shelf: &mut shelf })
}

fn examined(lesson: &Lesson) -> Result<Vec<Examined>, LessonError> {
    examining(|examiner| examiner.examine(lesson))
}

fn shipped() -> Vec<Lesson> {
    let lessons = Lessons::with_folder(&CATALOGUE, None);
    if let Some(wrong) = lessons.wrong().next() {
        panic!("{wrong}");
    }
    lessons.right().cloned().collect()
}

#[test]
fn every_lesson_that_travels_with_the_program_is_true_and_its_answer_follows() {
    let lessons = shipped();
    assert!(lessons.len() >= 8 && lessons.len() == LESSONS.len());
    let is_true = |lesson: &Lesson| {
        let found = examined(lesson).unwrap_or_else(|refuted| panic!("{}: {refuted}", lesson.name));
        let right: Vec<usize> =
            (0..lesson.choices.len()).filter(|&at| found[lesson.choices[at].claim].holds).collect();
        assert_eq!(right, [lesson.answer()], "{}", lesson.title);
    };
    // This is most of what this program takes: two processors share it.
    std::thread::scope(|scope| {
        for first in 0..2 {
            let every_other = lessons.iter().skip(first).step_by(2);
            scope.spawn(move || every_other.for_each(is_true));
        }
    });
}

#[test]
fn what_a_lesson_says_is_short_and_the_right_answer_does_not_always_stand_first() {
    let lessons = shipped();
    let words = |texts: &[String]| texts.iter().map(|text| text.split_whitespace().count()).sum::<usize>();
    for lesson in &lessons {
        let name = &lesson.name;
        assert!(words(&lesson.about) <= 110 && words(&lesson.because) <= 110, "{name} is long");
        assert!(lesson.remember.split_whitespace().count() <= 30, "{name}: {}", lesson.remember);
        assert!(lesson.question.ends_with('?'), "{name}: {}", lesson.question);
        assert!(lesson.shown(When::Question).count() > 0, "{name} asks without a picture");
    }
    let answers: HashSet<usize> = lessons.iter().map(Lesson::answer).collect();
    assert!(answers.len() > 1, "{answers:?}");
}

#[test]
fn a_flashing_lesson_gives_the_caution_in_its_own_words_too() {
    let lessons = shipped();
    let flashes = lessons.iter().find(|lesson| lesson.name.contains("flash-too-many")).unwrap();
    let text = [flashes.about.concat(), flashes.because.concat()].concat();
    for words in ["photosensitive epilepsy", "no certificate", "Local rules", "licensed practice", "blackout"]
    {
        assert!(text.contains(words), "{words}");
    }
}

#[test]
fn a_true_claim_of_each_kind_stands_and_is_refused_where_it_is_said_not_to_hold() {
    examining(|examiner| {
        for (claim, found) in TRUE {
            let text = format!("{QUAY}\n[[claim]]\nname = \"tried\"\n{claim}\n");
            let lesson = parsed(&text).unwrap();
            assert!(examiner.examine(&lesson).is_ok(), "{claim}");
            let error = examiner.examine(&parsed(&format!("{text}holds = false\n")).unwrap()).unwrap_err();
            let error = error.to_string();
            assert!(error.contains("the claim `tried` is said not to hold"), "{error}");
            assert!(error.contains(found), "{claim}: {error}");
        }
    });
}

#[test]
fn a_false_claim_of_each_kind_is_refused_with_its_place_and_what_was_found() {
    let line = QUAY.lines().count() + 2;
    examining(|examiner| {
        for (claim, found) in FALSE {
            let text = format!("{QUAY}\n[[claim]]\nname = \"tried\"\n{claim}\n");
            let error = examiner.examine(&parsed(&text).unwrap()).unwrap_err().to_string();
            let opening = format!("lessons/quay.toml:{line}:1: the claim `tried` is said to hold");
            assert!(error.starts_with(&opening), "{claim}: {error}");
            assert!(error.contains(found), "{claim}: {error}");
        }
    });
}

#[test]
fn the_right_choice_is_the_one_whose_claim_holds() {
    assert_eq!(parsed(QUAY).unwrap().answer(), 0);
    let other =
        QUAY.replace("claim = \"yes\"", "claim = \"spare\"").replace("claim = \"no\"", "claim = \"yes\"");
    let other = other.replace("claim = \"spare\"", "claim = \"no\"");
    assert_eq!(parsed(&other).unwrap().answer(), 1);
}

#[track_caller]
fn refused(old: &str, new: &str, place_and_message: &str) {
    assert!(QUAY.contains(old), "{old}");
    let error = parsed(&QUAY.replacen(old, new, 1)).unwrap_err();
    assert!(error.starts_with("lessons/quay.toml:"), "{error}");
    assert!(error.contains(place_and_message), "{error}");
}

#[test]
fn a_wrong_lesson_is_refused_at_its_place_with_the_nearest_right_word() {
    refused("title = ", "titel = ", ":2:1: unknown key `titel` in a lesson file; did you mean `title`?");
    refused(
        "lesson/1",
        "lesson/2",
        ":1:10: `format` is \"underover/lesson/2\"; a lesson takes `underover/lesson/1`",
    );
    refused("about = [\"A harbour with a mark over it.\"]", "about = []", "`about` lists 0; it takes 1 to 2");
    refused(
        "picture = \"own\" }",
        "picture = \"onw\" }",
        ":7:41: the lesson has no picture `onw`; did you mean `own`?",
    );
    refused("claim = \"yes\"", "claim = \"yse\"", "the lesson has no claim `yse`");
    refused(
        "order = [\"mirror\", \"tint\"]",
        "order = [\"miror\", \"tint\"]",
        "no effect `miror`; did you mean `mirror`?",
    );
    refused("order = [\"mirror\", \"tint\"]", "order = [\"tint\", \"tint\"]", "`tint` is named twice");
    refused("order = [\"mirror\", \"tint\"]", "order = [\"tint\"]", "`order` lists 1; it takes 2 to 2");
    refused(
        "order = [\"mirror\", \"tint\"]",
        "order = \"22\"",
        "the mark 2 stands twice; an order is named by its code",
    );
    refused("to = \"global\"", "to = \"globe\"", "`globe` is no scope");
    refused(
        "bare = true",
        "bare = true\norder = [\"mirror\", \"tint\"]",
        "a picture changes the show in one way",
    );
    refused("is = \"differs\"", "is = \"difers\"", "did you mean `differs`?");
    refused("least = 1.0", "most = 1.0", "unknown key `most` in a claim");
    refused("of = [\"own\", \"bare\"]", "of = [\"own\", \"own\"]", "a picture is always the same as itself");
    refused("name = \"swapped\"", "name = \"own\"", "two pictures are named `own`");
    refused("name = \"no\"", "name = \"yes\"", "two claims are named `yes`");
    refused("shown = \"question\"", "shown = \"befor\"", "it takes one of `answer`, `question` and `never`");
    refused("claim = \"no\"", "claim = \"yes\"", "the claims of choices 1 and 2 both hold");
    refused("claim = \"yes\"", "claim = \"no\"", "no choice rests on a claim that holds");
    refused("\n[[choice]]\nsays = \"No\"\nclaim = \"no\"\n", "\n", "at least two choices");
    refused("use = \"tint\"", "use = \"tnit\"", "did you mean `tint`?");
}

#[test]
fn a_lesson_names_an_order_by_its_code_too() {
    let named = parsed(QUAY).unwrap();
    let coded = parsed(&QUAY.replace("order = [\"mirror\", \"tint\"]", "order = \"21\"")).unwrap();
    let chains = |lesson: &Lesson| {
        lesson.pictures.iter().map(|one| one.show.bundles[0].chain.clone()).collect::<Vec<_>>()
    };
    assert_eq!(chains(&coded), chains(&named));
    assert_ne!(chains(&coded)[0], chains(&coded)[1]);
}

/// Two sections of the quay: without the mark, and one that lays another chain on the picture.
const STRETCHES: &str = "\
[[show.section]]
name = \"at sea\"
shows = { \"signs/mark\" = \"none\" }

[[show.section]]
name = \"in port\"
chains = { \"bundle:picture\" = \"preset:lamp-lines\" }

[[picture]]
name = \"at sea\"
says = \"Without the mark\"
scope = \"bundle:picture\"
section = \"at sea\"
bare = true

";

#[test]
fn a_picture_may_show_a_section_of_the_show_as_it_stands_there() {
    let (head, pictures) = QUAY.split_once("[[picture]]").unwrap();
    let text = format!("{head}{STRETCHES}[[picture]]{pictures}");
    let lesson = parsed(&text).unwrap();
    let [at_sea, own] = ["at sea", "own"].map(|name| {
        let picture = lesson.pictures.iter().find(|picture| picture.name == name).unwrap();
        &picture.show
    });
    assert!(at_sea.bundles[1].levels[0].hidden && !own.bundles[1].levels[0].hidden);
    assert!(at_sea.bundles[0].chain.is_empty(), "it is changed as well");
    for (section, message) in [
        ("at see", "there is no section `at see`; did you mean `at sea`?"),
        ("in port", "names no chains, write `effect` instead"),
    ] {
        let error =
            parsed(&text.replace("section = \"at sea\"", &format!("section = \"{section}\""))).unwrap_err();
        assert!(error.contains(message), "{error}");
    }
    refused(
        "shown = \"question\"",
        "section = \"at sea\"",
        "there is no section `at sea`; the show has none",
    );
}

#[test]
fn a_lesson_may_stand_on_a_show_that_travels_with_the_program() {
    let (head, rest) = QUAY.split_once("[show]").unwrap();
    let (_, pictures) = rest.split_once("[[picture]]").unwrap();
    let with = |name: &str| parsed(&format!("{head}show = \"{name}\"\n[[picture]]{pictures}"));
    let error = with("night-fery").unwrap_err();
    assert!(error.contains("no show named `night-fery`") && error.contains("did you mean `night-ferry`?"));
    // That show has other effects, so that the order names too few.
    assert!(with("night-ferry").unwrap_err().contains("`order` lists 2; it takes 5 to 5"));
}

#[test]
fn the_command_lists_asks_and_reveals() {
    let person = Person::new();
    let folder = person.path("data/lessons");
    fs::create_dir_all(&folder).unwrap();
    fs::write(folder.join("quay.toml"), QUAY).unwrap();
    fs::write(folder.join("wrong.toml"), "format = \"underover/lesson/1\"\ntitel = 1\n").unwrap();
    let (code, list, notes) = person.run(&["lessons"]);
    assert_eq!(code, 0);
    for lesson in shipped() {
        assert!(list.contains(&lesson.title), "{}", lesson.title);
    }
    assert!(list.contains("At the quay  (your own)"), "{list}");
    assert!(notes.contains("wrong.toml:2:1: unknown key `titel`"), "{notes}");

    let asked = person.right(&["lessons", "quay"]);
    assert!(asked.contains("Do they differ?") && asked.contains("a) Yes") && asked.contains("--reveal"));
    assert!(!asked.contains("Look first."), "the answer shows before a guess: {asked}");
    let revealed = person.right(&["lessons", "quay", "--reveal"]);
    assert!(revealed.contains("The answer is a.") && revealed.contains("To remember: Look first."));
    assert!(revealed.contains("no: does not hold: a mean difference of"), "{revealed}");

    let (code, unknown) = person.wrong(&["lessons", "qay"]);
    assert_eq!(code, 2);
    assert!(unknown.contains("did you mean `quay`?"));
}

#[test]
fn a_false_lesson_file_fails_its_check_and_makes_no_page() {
    let person = Person::new();
    let file = person.path("false.toml");
    fs::write(&file, QUAY.replace("holds = false", "").replace("least = 1.0", "least = 1.0\nholds = false"))
        .unwrap();
    let file = file.display().to_string();
    let (code, checked) = person.wrong(&["lessons", &file, "--check"]);
    assert_eq!(code, 1);
    assert!(checked.contains("the claim `yes` is said not to hold"));
    let page = person.path("page.html");
    let (code, _) = person.wrong(&["lessons", &file, "--out", &page.display().to_string()]);
    assert_eq!(code, 1);
    assert!(!page.exists());
}

#[test]
fn a_lesson_taken_for_a_show_is_told_apart() {
    let error =
        underover::files::parse(QUAY, "quay.toml", Path::new(""), &CATALOGUE).unwrap_err().to_string();
    assert_eq!(
        error,
        "quay.toml:1:10: this is a lesson, no chain or show; `underover lessons quay.toml --check` says whether it is right"
    );
}

#[test]
fn a_page_holds_everything_in_one_file_with_the_answer_folded_away() {
    let person = Person::new();
    fs::write(person.path("quay.toml"), QUAY).unwrap();
    let file = person.path("quay.toml").display().to_string();
    person.right(&["lessons", &file, "--out", &person.home().display().to_string()]);
    let html = fs::read_to_string(person.path("lessons.html")).unwrap();
    let (question, answer) = html.split_once("<details>").unwrap();
    assert!(question.contains("Do they differ?") && !question.contains("Look first."));
    assert!(answer.contains("Look first."));
    assert_eq!(html.matches("<img ").count(), 7, "every picture but those never shown");
    // One script, which the page's policy knows by its hash; what it reads is no script.
    assert_eq!(html.matches("<script>").count(), 1);
    assert!(html.contains("script-src &#39;sha256-") && !html.contains("unsafe-eval"));
    assert!(!html.contains("src=\"http") && !html.contains("href=\"http"));
    for alt in ["As it is", "Swapped", "Without"] {
        assert!(html.contains(&format!("alt=\"{alt}\"")), "{alt}");
    }
}
