//! The lessons that travel with the program are true, and false ones are refused.

use std::collections::HashSet;
use std::fs;
use std::path::Path;
use std::sync::LazyLock;

use underover::catalogue::Catalogue;
use underover::embedded::LESSONS;
use underover::files::parse_lesson;
use underover::footage::{Picture, Shelf};
use underover::gpu::{Gpu, Renderer};
use underover::lessons::{Examined, Examiner, Lesson, LessonError, Lessons};

static CATALOGUE: LazyLock<Catalogue> = LazyLock::new(|| Catalogue::built_in().unwrap());

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
    for wrong in lessons.wrong() {
        panic!("{wrong}");
    }
    lessons.right().cloned().collect()
}

#[test]
fn every_lesson_that_travels_with_the_program_is_true_and_its_answer_follows() {
    let lessons = shipped();
    assert!(lessons.len() >= 8 && lessons.len() == LESSONS.len());
    let mut refuted = Vec::new();
    for lesson in &lessons {
        match examined(lesson) {
            Ok(found) => {
                let right: Vec<usize> =
                    (0..lesson.choices.len()).filter(|&at| found[lesson.choices[at].claim].holds).collect();
                assert_eq!(right, [lesson.answer()], "{}", lesson.title);
                for (claim, found) in lesson.claims.iter().zip(found) {
                    eprintln!("{}: {}: {}", lesson.name, claim.name, found.found);
                }
            }
            Err(error) => refuted.push(error.to_string()),
        }
    }
    assert!(refuted.is_empty(), "{}", refuted.join("\n"));
}
