//! All that panels may ask the desk for.

use std::path::PathBuf;

use egui::Pos2;

use super::arrangement::Edge;
use super::basis::Basis;
use super::lesson_room::LessonAct;
use super::playing::HandAct;
use super::preferences::ThemeChoice;
use super::sections::SectionAct;
use super::seeking::FindAct;
use super::shelves::LibraryAct;
use super::showing::{Row, Shown, Tab, WallBy};
pub use crate::edit::Pin;
use crate::edit::{Edit, Named, Spot};
use crate::order::Condition;
use crate::show::{ClipPlace, Scope};

/// A dialog over the window that wants an answer.
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
    /// What files are for that were dropped over the orders.
    Dropped(Vec<PathBuf>),
    /// Which file is added on top of a level, a bundle or the show.
    AddFile(Scope),
    /// Whether these files are added there: what was chosen where no pictures of them were seen.
    AddFiles(Scope, Vec<PathBuf>),
    /// The levels of a bundle in other orders.
    LevelOrders(usize),
    /// Which orders the wall is to show.
    Condition,
    /// The work's file was changed by another program since it was read.
    Changed(PathBuf),
    /// Work of a program that crashed.
    Recover,
    /// What flashes, and what would flash less.
    Flashes,
    /// Every key.
    Keys,
    /// Every command, to be chosen by its words.
    Commands,
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
    BuildSheet,
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
            Self::BuildSheet => "the build sheet",
            Self::Report => "the report",
        }
    }

    /// The ending of its file.
    pub fn ending(self) -> &'static str {
        match self {
            Self::Work | Self::Chain => "toml",
            Self::Picture | Self::Wall => "png",
            Self::BuildSheet => "svg",
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
    /// Selects an effect beside those that are selected, or no longer; on another scope it is the only one.
    SelectToo(Spot),
    /// Selects every effect from the one selected first to this one.
    SelectTo(Spot),
    /// Copies the selected effects to the clipboard, as the text of a chain.
    Copy,
    /// Copies them and takes them out.
    Cut,
    /// Puts what is on the clipboard over the selected effect.
    Paste(String),
    /// Selects a scope: its own settings, and its chain for the wall.
    Scope(Scope),
    /// Shows the path of a clip.
    Path(ClipPlace),
    /// Shows something else in the large picture.
    Show(Shown),
    /// A card is dragged; what would be if it were dropped.
    Drag(Option<(Spot, Spot)>),
    /// Whether copies are dragged.
    DragCopies(bool),
    /// A bundle, a level or a clip is dragged, and the gap that it is over.
    DragPart(Option<(Scope, Scope)>),
    /// Shows a bundle, a level or a clip alone, or everything again.
    Alone(Option<Scope>),
    /// Opens or closes the column of bundles, levels and clips.
    ShowStructure(bool),
    /// Renames a bundle, a level or a clip where it stands, or no longer.
    RenameHere(Option<Scope>),
    /// Asks the system for files, to be added on top of something.
    ChooseFiles(Scope),
    /// Adds a file as footage on top of something: a clip to a level, a level to a bundle, a bundle to the show.
    AddFile(Scope, PathBuf),
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
    /// On what the orders on the wall are judged.
    Judge(Basis),
    /// What is asked of the search.
    Find(FindAct),
    /// Shows only orders that meet a condition, beside those asked for before.
    Require(Condition),
    /// Gives up a condition, by its place in the list.
    Release(usize),
    /// What hands do.
    Hand(HandAct),
    /// What is done with sections.
    Section(SectionAct),
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
    /// Renames a pin where it stands, or no longer.
    RenamePin(Option<usize>),
    /// Calls a pin something else; nothing: by what it shows.
    NamePin(usize, String),
    /// Opens a dialog.
    Ask(Dialog),
    /// Closes the dialog.
    Close,
    /// Opens a file, once changes are safe or given up.
    Open(PathBuf),
    /// Takes files as if they had been dropped onto the picture.
    TakeFiles(Vec<PathBuf>),
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
    /// Drags an edge between two regions to a size in points; nothing is the usual one.
    Size(Edge, Option<u16>),
    /// Size of the tiles of walls, in per cent of the usual.
    TileSize(u32),
    /// An edge was let go, or tiles have their size: that is remembered.
    KeepSizes,
    /// Gives up the export that is on its way.
    GiveUpExport,
    /// Whether the pictures of a pair are shown one after the other.
    Blink(bool),
    /// Where the line between the two pictures of a pair stands, as a share of their width.
    Wipe(f32),
    /// How much of the frame's sides is rendered: 1, 2 or 4 for all, half, quarter.
    Detail(u32),
    /// How large the picture is shown: `None` shows it whole.
    Zoom(Option<f32>),
    /// How large the picture is shown, and which point of it, as shares of its sides, stands in the middle.
    Look {
        zoom: f32,
        centre: Pos2,
    },
    /// Whether the picture alone fills the window.
    Fill(bool),
    /// Whether a second window shows the output.
    Second(bool),
    /// Whether the second window is black.
    Black(bool),
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
