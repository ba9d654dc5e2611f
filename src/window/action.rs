//! All that panels may ask the desk for.

use std::path::PathBuf;

use super::lesson_room::LessonAct;
use super::playing::HandAct;
use super::preferences::ThemeChoice;
use super::shelves::LibraryAct;
use crate::base::words::words;
pub use crate::edit::Pin;
use crate::edit::{Edit, Named, Spot};
use crate::order::{Condition, marks, write_marks};
use crate::show::chain::EffectUse;
use crate::show::{ClipPlace, Scope};

/// What the large picture shows.
#[derive(Debug, Clone, PartialEq)]
pub enum Shown {
    /// The output, as the work stands.
    Output,
    /// The scope's picture directly after an effect.
    After(Spot),
    /// The output with a chain in another order.
    Order {
        /// Whose chain.
        scope: Scope,
        /// Its present places, first applied first.
        order: Vec<usize>,
    },
    /// Two orders of a chain.
    Pair(Pair),
}

/// Two orders of one chain, side by side or one over the other.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    /// Whose chain.
    pub scope: Scope,
    /// The order on the left, and the one that is shown first.
    pub left: Vec<usize>,
    /// The other.
    pub right: Vec<usize>,
    /// How they are compared.
    pub way: Comparing,
}

words! {
    /// How two pictures are compared.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub enum Comparing {
        /// One beside the other, or under it where that shows them larger.
        Beside = "both",
        /// One over the other, parted by a line that the person moves.
        Wipe = "wipe",
        /// One after the other, each for half a second, once the person asks for it.
        Blink = "blink",
        /// How far they are apart, four times as bright.
        Difference = "difference",
    }
}

words! {
    /// What stands beside the picture.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub enum Tab {
        /// The wall of orders.
        Orders = "orders",
        /// The swap table.
        Swaps = "swaps",
        /// Orders kept in view.
        Pins = "pins",
        /// The show's controls.
        Hands = "hands",
        /// Lessons.
        Lessons = "lessons",
        /// Chains and starters kept from show to show.
        Library = "library",
    }
}

impl Tab {
    /// The word on its control.
    pub fn label(self) -> String {
        let (first, rest) = self.name().split_at(1);
        format!("{}{rest}", first.to_ascii_uppercase())
    }
}

/// What the wall shows a picture of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum WallBy {
    /// Every look: orders that a viewer cannot tell apart stand behind one picture.
    Looks,
    /// Every order that looks like this one.
    Look(Vec<usize>),
    /// Every order that can differ.
    Orders,
}

/// An order by the effects themselves, the first applied first: it means the same whatever list it was read
/// from, and however the chain stands by now.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Whose chain.
    pub scope: Scope,
    /// Its effects in that order.
    pub effects: Vec<EffectUse>,
}

impl Row {
    /// A chain's effects in this order of their places.
    pub fn of(chain: &[EffectUse], scope: Scope, order: &[usize]) -> Self {
        let mut chain = chain.to_vec();
        write_marks(&mut chain);
        Self { scope, effects: order.iter().filter_map(|&place| chain.get(place).cloned()).collect() }
    }

    /// Its effects' marks, in that order.
    pub fn marks(&self) -> impl Iterator<Item = u32> {
        self.effects.iter().filter_map(|used| used.mark)
    }

    /// The places of its effects in a chain of just these effects; nothing where the chain has others.
    pub fn in_chain(&self, chain: &[EffectUse]) -> Option<Vec<usize>> {
        if self.effects.len() != chain.len() {
            return None;
        }
        let marks = marks(chain);
        let mut left: Vec<usize> = (0..chain.len()).collect();
        let mut take = |used: &EffectUse| {
            let alike = |&place: &usize| chain[place].is_alike(used);
            let is_it = |place: &usize| used.mark == Some(marks.of(*place)) && alike(place);
            let at = left.iter().position(is_it).or_else(|| left.iter().position(alike))?;
            Some(left.remove(at))
        };
        self.effects.iter().map(&mut take).collect()
    }
}

/// A sheet over the window that wants an answer.
#[derive(Debug, Clone, PartialEq)]
pub enum Dialog {
    /// Which file to open.
    Open,
    /// Under which name to save or export.
    Save(Saving),
    /// Whether changes may be lost, and what happens then.
    Losing(Box<Action>),
    /// A report that a file could not be used.
    Report {
        /// What was tried.
        title: String,
        /// The error's own text.
        text: String,
    },
    /// Which effect goes into a gap.
    Add(Spot),
    /// Another name for something.
    Rename(Named),
    /// Which footage a clip shows.
    Footage(ClipPlace),
    /// Which orders the wall is to show.
    Condition,
    /// The work's file was changed by another program since it was read.
    Changed(PathBuf),
    /// Work of a program that crashed.
    Recover,
    /// What flashes, and what would flash less.
    Flashes,
    Keys,
    /// The steps taken.
    Steps,
}

/// What is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Saving {
    Work,
    /// The large picture, as a PNG.
    Picture,
    /// The wall, as a PNG.
    Wall,
    /// The chain of the scope, as a chain file.
    Chain,
    /// A sheet to rebuild the show by hand, as a drawing, a picture or text.
    Sheet,
    /// Everything known of the show, as a page.
    Report,
}

impl Saving {
    /// What it is, as the end of "Save ...".
    pub fn label(self) -> &'static str {
        match self {
            Self::Work => "the work",
            Self::Picture => "the picture",
            Self::Wall => "the wall of orders",
            Self::Chain => "the chain",
            Self::Sheet => "the build sheet",
            Self::Report => "the report",
        }
    }

    /// The ending of its file.
    pub fn ending(self) -> &'static str {
        match self {
            Self::Work | Self::Chain => "toml",
            Self::Picture | Self::Wall => "png",
            Self::Sheet => "svg",
            Self::Report => "html",
        }
    }
}

/// What a panel asks for.
#[derive(Debug, Clone, PartialEq)]
pub enum Action {
    /// A change of the work.
    Edit(Edit),
    /// A run of changes is over: a slider was let go.
    EndRun,
    /// One step back.
    Undo,
    /// One step forth.
    Redo,
    /// To a number of steps.
    GoTo(usize),
    /// Selects an effect, and its chain for the wall.
    Select(Spot),
    /// Selects a scope: its own settings, and its chain for the wall.
    Scope(Scope),
    /// Shows the path of a clip.
    Path(ClipPlace),
    /// Shows something else in the large picture.
    Show(Shown),
    /// A card is dragged; what would be if it were dropped.
    Drag(Option<(Spot, Spot)>),
    /// Plays or holds.
    Play(bool),
    Beats(f64),
    /// Holds, and goes this many frames on, or back where negative.
    StepFrames(i64),
    /// A tap on the beat: several make the tempo.
    Tap,
    /// Plays so many beats round and round from where it stands, or plays on.
    Loop(Option<u32>),
    /// Another tab.
    Tab(Tab),
    /// Whether the wall shows the output, not the picture as it leaves the chain.
    WallOfOutput(bool),
    /// Counts the flashes of every order on the wall, too.
    FlashesOfOrders,
    /// Tries anew what failed on a thread of its own: orders, looks, flashes, small pictures.
    TryAgain,
    /// What the wall shows a picture of.
    WallBy(WallBy),
    /// Shows only orders that meet a condition, beside those asked for before.
    Require(Condition),
    /// Gives up a condition, by its place in the list.
    Release(usize),
    /// What hands do.
    Hand(HandAct),
    /// Something done with the library.
    Library(LibraryAct),
    /// What is asked of the lessons.
    Lesson(LessonAct),
    /// Puts a chain into this order, if it has just these effects still.
    Adopt(Row),
    /// Has the wall show what has been found since it was laid out.
    LayWall,
    /// Keeps an order in view.
    Pin(Pin),
    /// Lets go of a pin.
    Unpin(usize),
    /// Opens a sheet.
    Ask(Dialog),
    /// Closes the sheet.
    Close,
    /// Opens a file, once changes are safe or given up.
    Open(PathBuf),
    /// Opens a preset, once changes are safe or given up.
    OpenPreset(String),
    /// Takes a chain file's or a preset's chain for a scope.
    TakeChain(Scope, String),
    /// Saves the work to its file, or asks for one.
    Save,
    /// Saves the work, and once it is saved does something else.
    SaveThen(Box<Action>),
    /// Saves the work over what another program has written.
    Replace(PathBuf),
    /// Writes something to a file.
    Write(Saving, PathBuf),
    /// Takes up work found again, or gives it up.
    Recover(bool),
    /// Closes the window, once changes are safe or given up.
    Quit,
    /// Goes on, though changes are lost.
    Lose(Box<Action>),
    /// Light or dark.
    Theme(ThemeChoice),
    /// Size of text, in per cent of the usual.
    TextSize(u32),
    /// Gives up the export that is on its way.
    GiveUpExport,
    /// Whether the pictures of a pair are shown one after the other.
    Blink(bool),
    /// Where the line between the two pictures of a pair stands, as a share of their width.
    Wipe(f32),
    /// How much of the frame's sides is rendered: 1, 2 or 4 for all, half, quarter.
    Detail(u32),
    /// How large the picture is shown: `None` fits it in.
    Zoom(Option<f32>),
    /// Says something in the bottom line.
    Say(String),
}

impl Action {
    /// Whether other work takes the place of what is on the desk, or none does.
    pub fn leaves_the_work(&self) -> bool {
        matches!(
            self,
            Self::Open(_)
                | Self::OpenPreset(_)
                | Self::Library(LibraryAct::Begin(_))
                | Self::Lesson(LessonAct::Try)
                | Self::Quit
        )
    }
}
