//! The lessons that can be opened, which one is, and what was answered.

use std::path::Path;
use std::sync::Arc;

use crate::catalogue::Catalogue;
use crate::files::WriteError;
use crate::lessons::{Answers, FOLDER, Lesson, Lessons};

/// What a panel asks of the lessons.
#[derive(Debug, Clone, PartialEq)]
pub enum LessonAct {
    /// The list of all.
    List,
    /// Opens one, by its place in the list.
    Open(usize),
    /// So many lessons on, or back where negative.
    Turn(isize),
    /// Makes a choice in the lesson that is open.
    Choose(usize),
    /// Asks the lesson that is open again.
    Again,
    /// Forgets every answer.
    Forget,
    /// Opens the show of the lesson that is open, once changes are safe or given up.
    Try,
}

/// One lesson on offer.
#[derive(Debug, Clone)]
pub struct Offered {
    pub lesson: Arc<Lesson>,
    /// Whether it travels inside the program.
    pub is_built_in: bool,
}

/// The lessons, and what was answered.
#[derive(Debug, Default)]
pub struct LessonRoom {
    read: bool,
    /// Those that can be opened.
    pub offered: Vec<Offered>,
    /// Why others cannot, each with its place.
    pub wrong: Vec<String>,
    /// What was answered.
    pub answers: Answers,
    /// The one that is open, by its place among those on offer.
    pub open: Option<usize>,
    /// Whether a newcomer is shown the way here.
    pub invites: bool,
}

impl LessonRoom {
    /// The room, with what was answered before; lessons are read once they are wanted.
    pub fn new(state: Option<&Path>, is_first_start: bool) -> Self {
        let answers = Answers::read(state);
        Self { invites: is_first_start && answers.is_empty() && state.is_some(), answers, ..Self::default() }
    }

    /// Reads the lessons, those of the program and those of the person's data folder.
    pub fn enter(&mut self, catalogue: &Catalogue, data: Option<&Path>) {
        self.invites = false;
        if std::mem::replace(&mut self.read, true) {
            return;
        }
        let folder = data.map(|data| data.join(FOLDER));
        for found in Lessons::with_folder(catalogue, folder.as_deref()).found {
            match found.lesson {
                Ok(lesson) => {
                    self.offered.push(Offered { lesson: Arc::new(lesson), is_built_in: found.is_built_in });
                }
                Err(error) => self.wrong.push(error.to_string()),
            }
        }
    }

    /// The lesson that is open.
    pub fn lesson(&self) -> Option<&Arc<Lesson>> {
        self.offered.get(self.open?).map(|offered| &offered.lesson)
    }

    /// What was chosen in a lesson, if it still has that choice.
    pub fn chosen(&self, lesson: &Lesson) -> Option<usize> {
        self.answers.chosen(&lesson.name).filter(|&choice| choice < lesson.choices.len())
    }

    /// Does what a panel asks for, but for opening a show.
    pub fn act(&mut self, act: &LessonAct) -> Result<(), WriteError> {
        let open = self.lesson().cloned();
        match (act, open) {
            (LessonAct::List, _) => self.open = None,
            (LessonAct::Open(at), _) => self.open = (*at < self.offered.len()).then_some(*at),
            (LessonAct::Turn(by), _) => self.turn(*by),
            (LessonAct::Choose(choice), Some(lesson)) if *choice < lesson.choices.len() => {
                return self.answers.choose(&lesson.name, *choice);
            }
            (LessonAct::Again, Some(lesson)) => return self.answers.forget(&lesson.name),
            (LessonAct::Forget, _) => return self.answers.forget_all(),
            (LessonAct::Choose(_) | LessonAct::Again | LessonAct::Try, _) => {}
        }
        Ok(())
    }

    fn turn(&mut self, by: isize) {
        let Some(last) = self.offered.len().checked_sub(1) else { return };
        self.open = Some(match self.open {
            Some(open) => open.saturating_add_signed(by).min(last),
            None if by < 0 => last,
            None => 0,
        });
    }
}
