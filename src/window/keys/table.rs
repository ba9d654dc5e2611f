//! Every command of the window, with its keys and its words.

use egui::{Key, Modifiers};

use super::does::*;
use super::{Binding, Clip, Needs, Reach, Row, Stroke};
use crate::edit::{ClipEdit, Deed, Edit, Named, StructureEdit};
use crate::window::action::{Action, Dialog, Saving};
use crate::window::lesson_room::LessonAct;
use crate::window::preferences::TEXT_STEP;
use crate::window::sections::SectionAct;
use crate::window::showing::Tab;

/// What one of several keys does by itself, where that is said.
macro_rules! alone {
    () => {
        None
    };
    ($words:literal) => {
        Some($words)
    };
}

/// Declares the commands with their table: `KEY => what it does => "what this key alone does"`.
macro_rules! commands {
    ($($group:literal {
        $($Command:ident $says:literal, $Reach:ident, $Needs:ident:
            $($stroke:expr => $does:expr $(=> $alone:literal)?),+;)+
    })+) => {
        /// What can be done with a key.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum Command { $($(#[doc = $says] $Command,)+)+ }

        /// Every command, in groups that have names.
        pub const COMMANDS: &[(&str, &[Row])] = &[$(($group, &[$(Row {
            command: Command::$Command,
            says: $says,
            reach: Reach::$Reach,
            needs: Needs::$Needs,
            keys: &[$(Binding { stroke: $stroke, does: $does, alone: alone!($($alone)?) }),+],
        }),+])),+];
    };
}

const fn plain(key: Key) -> Stroke {
    Stroke::Key(Modifiers::NONE, key)
}

const fn shift(key: Key) -> Stroke {
    Stroke::Key(Modifiers::SHIFT, key)
}

const fn alt(key: Key) -> Stroke {
    Stroke::Key(Modifiers::ALT, key)
}

const fn ctrl(key: Key) -> Stroke {
    Stroke::Key(Modifiers::COMMAND, key)
}

const fn ctrl_shift(key: Key) -> Stroke {
    Stroke::Key(Modifiers::COMMAND.plus(Modifiers::SHIFT), key)
}

// Letters are chosen from what is done here: X crosses two orders, J jots one down and with Shift takes that back, as Shift
// does of every letter that has a way back, E enters a family and I goes into the picture. Enter adopts what is in the
// picture, with Shift what is pinned.
commands! {
    "The path" {
        StepEffect "the effect before or after, through every scope", Free, Nothing:
            plain(Key::ArrowLeft) => |scene| select_by(scene, -1) => "the effect before",
            plain(Key::ArrowRight) => |scene| select_by(scene, 1) => "the effect after";
        MoveEffect "move the effect under or over, also into the next scope", Desk, Effect:
            alt(Key::ArrowLeft) => |scene| move_by(scene, -1) => "move the effect under",
            alt(Key::ArrowRight) => |scene| move_by(scene, 1) => "move the effect over";
        StepScope "the scope before or after on the path", Free, Nothing:
            plain(Key::ArrowUp) => |scene| scope_by(scene, -1) => "the scope before on the path",
            plain(Key::ArrowDown) => |scene| scope_by(scene, 1) => "the scope after on the path";
        StepClip "the path of the next or previous clip", Desk, Nothing:
            plain(Key::PageUp) => |scene| clip_by(scene, 1) => "the path of the next clip",
            plain(Key::PageDown) => |scene| clip_by(scene, -1) => "the path of the previous clip";
        Add "add an effect over the selected one", Desk, Nothing:
            plain(Key::A) => |scene| scene.act(Action::Ask(Dialog::Add(scene.spot_to_add())));
        SelectMore "select the effect before or after, too", Desk, Effect:
            ctrl_shift(Key::ArrowLeft) => |scene| select_more(scene, -1) => "select the effect before, too",
            ctrl_shift(Key::ArrowRight) => |scene| select_more(scene, 1) => "select the effect after, too";
        SelectAll "select every effect of the scope", Desk, Chain: ctrl(Key::A) => select_all;
        Copy "copy the selected effects", Desk, Effect: Stroke::Clip(Clip::Copy) => |scene| scene.act(Action::Copy);
        Cut "cut the selected effects", Desk, Effect: Stroke::Clip(Clip::Cut) => |scene| scene.act(Action::Cut);
        Paste "paste effects over the selected one", Desk, Nothing:
            Stroke::Clip(Clip::Paste) => |scene| scene.wants_paste = true;
        Duplicate "duplicate the selected effects", Desk, Effect:
            ctrl(Key::D) => |scene| on_selected(scene, Deed::Duplicate);
        Remove "remove the selected effects", Desk, Effect: plain(Key::Delete) => |scene| on_selected(scene, Deed::Remove);
        Switch "switch the selected effects on or off", Desk, Effect: plain(Key::O) => switch;
        Reset "settings of the selected effects back to their defaults", Desk, Effect:
            plain(Key::R) => |scene| on_selected(scene, Deed::Reset);
        ShowAfter "the picture after the effect; again: the output", Desk, Effect: plain(Key::V) => show_after;
        Rename "rename the selected effect or scope", Desk, Nothing: plain(Key::F2) => rename;
        RenameScope "rename the scope", Desk, NamedScope:
            shift(Key::F2) => |scene| scene.act(Action::Ask(Dialog::Rename(Named::Scope(scene.view.scope))));
        Footage "other footage for the clip", Desk, Nothing: plain(Key::T) => |scene| {
            scene.act(Action::Ask(Dialog::Footage(scene.view.clip)));
        };
        ToStructure "to the structure, on the scope's row", Desk, NamedScope: plain(Key::Q) => |scene| {
            scene.act(Action::ShowStructure(true));
            scene.act(Action::Scope(scene.view.scope));
            scene.next_row = Some(scene.view.scope);
        };
        Structure "open or close the structure", Desk, Nothing: shift(Key::Q) => |scene| {
            scene.act(Action::ShowStructure(scene.view.preferences.hides_structure));
        };
        ShowAlone "the bundle, level or clip alone, or everything again", Desk, NamedScope:
            shift(Key::S) => show_alone;
        ShowClip "show the clip of this path on its level", Desk, Nothing: plain(Key::S) => |scene| {
            scene.act(Action::Edit(Edit::Clip(scene.view.clip, ClipEdit::Show)));
        };
    }
    "The structure, a row of it in hand" {
        StepRow "the row over or under it", Desk, Row:
            plain(Key::ArrowUp) => |scene| row_by(scene, true) => "the row over it",
            plain(Key::ArrowDown) => |scene| row_by(scene, false) => "the row under it";
        MoveRow "move it up or down", Desk, Row:
            alt(Key::ArrowUp) => |scene| move_row(scene, true) => "move the row up",
            alt(Key::ArrowDown) => |scene| move_row(scene, false) => "move the row down";
        RenameRow "rename the row where it stands", Desk, Row: plain(Key::Enter) => |scene| {
            scene.act(Action::RenameHere(scene.part_in_hand()));
        };
        HideRow "hide the row, or no longer", Desk, Row: plain(Key::O) => hide_row;
        DuplicateRow "duplicate the row", Desk, Row: ctrl(Key::D) => |scene| {
            edit_row(scene, |what| Edit::Structure(StructureEdit::Duplicate(what)));
        };
        RemoveRow "remove the row", Desk, Row: plain(Key::Delete) => |scene| edit_row(scene, Edit::Drop);
    }
    "Sections of the set" {
        StepSection "the next section, or the one before", Desk, Sections:
            plain(Key::C) => |scene| section(scene, SectionAct::Step(1)) => "the next section",
            shift(Key::C) => |scene| section(scene, SectionAct::Step(-1)) => "the section before";
        NthSection "the first section, the second, ... the ninth", Desk, Sections:
            ctrl(Key::Num1) => |scene| section(scene, SectionAct::Nth(0)) => "the first section",
            ctrl(Key::Num2) => |scene| section(scene, SectionAct::Nth(1)) => "the second section",
            ctrl(Key::Num3) => |scene| section(scene, SectionAct::Nth(2)) => "the third section",
            ctrl(Key::Num4) => |scene| section(scene, SectionAct::Nth(3)) => "the fourth section",
            ctrl(Key::Num5) => |scene| section(scene, SectionAct::Nth(4)) => "the fifth section",
            ctrl(Key::Num6) => |scene| section(scene, SectionAct::Nth(5)) => "the sixth section",
            ctrl(Key::Num7) => |scene| section(scene, SectionAct::Nth(6)) => "the seventh section",
            ctrl(Key::Num8) => |scene| section(scene, SectionAct::Nth(7)) => "the eighth section",
            ctrl(Key::Num9) => |scene| section(scene, SectionAct::Nth(8)) => "the ninth section";
        WholeShow "the show as it stands, in no section", Desk, Sections:
            plain(Key::U) => |scene| section(scene, SectionAct::Go(None));
        AddSection "a section that holds what shows now", Desk, Nothing:
            alt(Key::C) => |scene| section(scene, SectionAct::Add);
        Rehearse "play the running order from the section that is looked at", Desk, Sections:
            plain(Key::P) => |scene| section(scene, SectionAct::Rehearse(true));
    }
    "The running order, while it plays" {
        CallSection "call the next section, or the one before", Desk, Rehearsal:
            plain(Key::ArrowRight) => |scene| section(scene, SectionAct::Call(1)) => "call the next section",
            plain(Key::ArrowLeft) => |scene| section(scene, SectionAct::Call(-1)) => "call the section before";
        EndRehearsal "end it, and look at the section that played", Desk, Rehearsal:
            plain(Key::Escape) => |scene| section(scene, SectionAct::Rehearse(false));
    }
    "Beside the picture" {
        Tabs "orders, swaps, pins, hands, lessons, library, find", Desk, Nothing:
            plain(Key::Num1) => |scene| scene.act(Action::Tab(Tab::ALL[0])) => "the orders",
            plain(Key::Num2) => |scene| scene.act(Action::Tab(Tab::ALL[1])) => "the swaps",
            plain(Key::Num3) => |scene| scene.act(Action::Tab(Tab::ALL[2])) => "the pins",
            plain(Key::Num4) => |scene| scene.act(Action::Tab(Tab::ALL[3])) => "the hands",
            plain(Key::Num5) => |scene| scene.act(Action::Tab(Tab::ALL[4])) => "the lessons",
            plain(Key::Num6) => |scene| scene.act(Action::Tab(Tab::ALL[5])) => "the library",
            plain(Key::Num7) => |scene| scene.act(Action::Tab(Tab::ALL[6])) => "find";
        NextLesson "among the lessons: the next one", Desk, Lessons:
            plain(Key::N) => |scene| scene.act(Action::Lesson(LessonAct::Turn(1)));
        PreviousLesson "among the lessons: the previous one", Desk, Lessons:
            shift(Key::N) => |scene| scene.act(Action::Lesson(LessonAct::Turn(-1)));
    }
    "Orders" {
        StepOrder "the next or previous order in the large picture", Desk, Nothing:
            plain(Key::CloseBracket) => |scene| order_by(scene, 1) => "the next order in the large picture",
            plain(Key::OpenBracket) => |scene| order_by(scene, -1) => "the previous order in the large picture";
        Adopt "adopt the order in the large picture", Free, Order: plain(Key::Enter) => adopt;
        Compare "compare the order in the large picture with the current one", Desk, Order: plain(Key::X) => compare;
        ComparePin "compare the large picture with the newest pin; again: the one before it", Desk, Pin:
            shift(Key::X) => compare_pin;
        Pin "pin the order in the large picture", Desk, Order: plain(Key::J) => pin;
        Judge "judged on this clip, every clip, other footage", Desk, Effects: plain(Key::G) => judge_by_next;
        AdoptFound "adopt what was found, while it is in the large picture", Free, Answer: plain(Key::Enter) => adopt_found;
        WallBy "families, looks, every order", Desk, Nothing: plain(Key::L) => wall_by_next;
        Unfold "open the family in the large picture to its looks, the look to its orders", Desk, Nothing:
            plain(Key::E) => unfold,
            alt(Key::ArrowDown) => unfold;
        Fold "close the look or family that is open", Desk, Nothing: alt(Key::ArrowUp) => fold;
        Only "only orders in which an effect is first, last or before another", Desk, Effects:
            plain(Key::F) => |scene| scene.act(Action::Ask(Dialog::Condition));
        LargerTiles "larger tiles", Desk, Nothing:
            plain(Key::Plus) => |scene| tiles_by(scene, true),
            plain(Key::Equals) => |scene| tiles_by(scene, true);
        SmallerTiles "smaller tiles", Desk, Nothing: plain(Key::Minus) => |scene| tiles_by(scene, false);
        UsualTiles "tiles of the usual size", Desk, Nothing: plain(Key::Num0) => |scene| tiles_of(scene, 100);
        EveryOrder "every order again", Desk, Nothing: shift(Key::F) => |scene| {
            (0..scene.view.conditions.len()).for_each(|_| scene.act(Action::Release(0)));
        };
        WallOfOutput "the wall after this chain, or of the final output", Desk, Nothing:
            plain(Key::W) => |scene| scene.act(Action::WallOfOutput(!scene.view.wall_of_output));
        AdoptPin "adopt the newest pin", Free, Pin: shift(Key::Enter) => adopt_pin;
        Unpin "unpin the newest pin", Desk, Pin:
            shift(Key::J) => |scene| scene.act(Action::Unpin(scene.view.pins.len().saturating_sub(1)));
        Back "back to the output, then to all families", Desk, Nothing: plain(Key::Escape) => back;
    }
    "Two pictures compared" {
        NextWay "both, wipe, blink, difference", Desk, Pair: plain(Key::M) => next_way;
        Blink "blink, or pause", Desk, Pair: plain(Key::B) => blink;
        Wipe "move the line of the wipe", Desk, Pair:
            shift(Key::ArrowLeft) => |scene| scene.act(Action::Wipe(scene.view.wipe - 0.05)) => "the line of the wipe to the left",
            shift(Key::ArrowRight) => |scene| scene.act(Action::Wipe(scene.view.wipe + 0.05)) => "the line of the wipe to the right";
        AdoptOther "adopt the other one", Free, Pair: plain(Key::Enter) => adopt_other;
    }
    "The picture and the beat" {
        Zoom "the whole picture, x1, x4", Desk, Nothing: plain(Key::I) => |scene| {
            let zoom = match scene.view.zoom {
                None => Some(1.0),
                Some(zoom) if zoom < 2.0 => Some(4.0),
                Some(_) => None,
            };
            scene.act(Action::Zoom(zoom));
        };
        Fill "the picture alone fills the window; again: everything", Everywhere, Nothing:
            plain(Key::F11) => |scene| scene.act(Action::Fill(!scene.view.fills));
        Second "the output in a second window; again: closes it", Everywhere, Nothing:
            plain(Key::F12) => |scene| scene.act(Action::Second(!scene.view.second));
        Black "the second window black, or the output again", Everywhere, Second:
            plain(Key::F8) => |scene| scene.act(Action::Black(!scene.view.black));
        Detail "preview full, half, quarter", Desk, Nothing: plain(Key::D) => |scene| {
            scene.act(Action::Detail(if scene.view.detail >= 4 { 1 } else { scene.view.detail * 2 }));
        };
        Flashes "what flashes, and what would flash less", Desk, Nothing:
            plain(Key::H) => |scene| scene.act(Action::Ask(Dialog::Flashes));
        Play "play or pause", Free, Nothing:
            plain(Key::Space) => |scene| scene.act(Action::Play(!scene.view.playing));
        StepFrame "a frame back or on", Desk, Nothing:
            shift(Key::Comma) => |scene| scene.act(Action::StepFrames(-1)) => "a frame back",
            shift(Key::Period) => |scene| scene.act(Action::StepFrames(1)) => "a frame on";
        Tap "tap the tempo", Desk, Nothing: plain(Key::K) => |scene| scene.act(Action::Tap);
        Loop "loop of 4, 8, 16 beats, or none", Desk, Nothing: plain(Key::Y) => |scene| {
            let next = match scene.view.looped {
                None => Some(4),
                Some(4) => Some(8),
                Some(8) => Some(16),
                Some(_) => None,
            };
            scene.act(Action::Loop(next));
        };
        StepBeat "a quarter beat back or on", Desk, Nothing:
            plain(Key::Comma) => |scene| scene.act(Action::Beats(scene.view.beats - 0.25)) => "a quarter beat back",
            plain(Key::Period) => |scene| scene.act(Action::Beats(scene.view.beats + 0.25)) => "a quarter beat on";
        Start "to beat 0", Desk, Nothing: plain(Key::Home) => |scene| scene.act(Action::Beats(0.0));
        Tempo "one BPM faster or slower", Desk, Nothing:
            ctrl(Key::ArrowUp) => |scene| tempo_by(scene, 1.0) => "one BPM faster",
            ctrl(Key::ArrowDown) => |scene| tempo_by(scene, -1.0) => "one BPM slower";
    }
    "Files and steps" {
        Open "open", Everywhere, Nothing: ctrl(Key::O) => |scene| scene.act(Action::Ask(Dialog::Open));
        Save "save", Everywhere, Nothing: ctrl(Key::S) => |scene| scene.act(Action::Save);
        SaveAs "save as", Everywhere, Nothing: ctrl_shift(Key::S) => |scene| ask_where(scene, Saving::Work);
        ExportPicture "export the picture", Everywhere, Nothing:
            ctrl(Key::E) => |scene| ask_where(scene, Saving::Picture);
        ExportWall "export the wall", Everywhere, Nothing:
            ctrl_shift(Key::E) => |scene| ask_where(scene, Saving::Wall);
        GiveUpExport "give up the export that is on its way", Dialogs, Nothing:
            ctrl(Key::Backspace) => |scene| scene.act(Action::GiveUpExport);
        KeepChain "save the chain to a file", Everywhere, Nothing:
            ctrl(Key::K) => |scene| ask_where(scene, Saving::Chain);
        RenameShow "rename the show; its text, size, rate and more", Everywhere, Nothing:
            ctrl(Key::F2) => |scene| scene.act(Action::Ask(Dialog::Rename(Named::Show)));
        Undo "undo", Everywhere, Nothing: ctrl(Key::Z) => |scene| scene.act(Action::Undo);
        Redo "redo", Everywhere, Nothing:
            ctrl_shift(Key::Z) => |scene| scene.act(Action::Redo),
            ctrl(Key::Y) => |scene| scene.act(Action::Redo);
        Steps "the steps taken", Everywhere, Nothing:
            ctrl(Key::H) => |scene| scene.act(Action::Ask(Dialog::Steps));
        Quit "quit", Everywhere, Nothing: ctrl(Key::Q) => |scene| scene.act(Action::Quit);
    }
    "The window" {
        LargerText "larger text", Everywhere, Nothing:
            ctrl(Key::Plus) => |scene| text_by(scene, TEXT_STEP as i32),
            ctrl(Key::Equals) => |scene| text_by(scene, TEXT_STEP as i32);
        SmallerText "smaller text", Everywhere, Nothing:
            ctrl(Key::Minus) => |scene| text_by(scene, -(TEXT_STEP as i32));
        UsualText "text of the usual size", Everywhere, Nothing:
            ctrl(Key::Num0) => |scene| scene.act(Action::TextSize(100));
        Theme "dark, light, as the system", Everywhere, Nothing:
            plain(Key::F9) => |scene| scene.act(Action::Theme(scene.view.preferences.theme.next()));
        Menus "the menus", Everywhere, Nothing: plain(Key::F10) => |scene| scene.wants_menus = true;
        Keys "every key", Everywhere, Nothing:
            plain(Key::F1) => |scene| scene.act(Action::Ask(Dialog::Keys));
        KeysBySign "every key, too", Desk, Nothing:
            Stroke::Sign("?") => |scene| scene.act(Action::Ask(Dialog::Keys));
        Commands "every command by its words", Everywhere, Nothing:
            plain(Key::F3) => |scene| scene.act(Action::Ask(Dialog::Commands));
        NextPart "the next part of the window, or the one before", Everywhere, Nothing:
            plain(Key::F6) => |scene| part_by(scene, 1) => "the next part of the window",
            shift(Key::F6) => |scene| part_by(scene, -1) => "the part of the window before";
        NextControl "to the next control; Space or Enter presses it", Itself, Nothing:
            plain(Key::Tab) => |_| ();
        InDialog "in a dialog: its main button, the way out", Itself, Nothing:
            plain(Key::Enter) => |_| (),
            plain(Key::Escape) => |_| ();
    }
}
