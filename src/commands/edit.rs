//! `underover edit`: the structure of a show changed, as the window does it.

use std::path::{Path, PathBuf};
use std::slice;

use clap::{Args, Subcommand};

use super::documents::{Documents, write_show};
use super::edit_controls::ControlChange;
use super::edit_sections::{OrderOfSections, SectionChange};
use super::edited::{OfShow, clip_named, colour_named, part, scope_named};
use super::output::{Output, check_places, say};
use super::{WrongWords, note};
use crate::base::place::{did_you_mean, listed};
use crate::edit::{ClipEdit, Edit, Named, StructureEdit};
use crate::footage::Shelf;
use crate::show::clip::FootageName;
use crate::show::{BlendMode, Clip, ClipPlace, Mix, Scope, Section, Show};

/// The options of `edit`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  underover edit set friday.toml level:picture/sea --opacity 0.4 --out dimmed.toml
  underover edit add friday.toml generated:ship-mark --into global --name signs --out signs.toml
  underover edit move signs.toml bundle:signs --under bundle:picture --out under.toml
  underover edit set signs.toml bundle:signs --hidden true --out signs.toml

A scope is written bundle:NAME, level:BUNDLE/LEVEL or clip:BUNDLE/LEVEL/CLIP. What holds settings, what moves and where \
chains are from goes along with what is moved or renamed. A file keeps its comments; with the name of the show itself \
behind --out it is changed in place.")]
pub(super) struct EditCommand {
    #[command(subcommand)]
    change: Change,
    /// A folder of .wgsl files: effects of your own
    #[arg(long, value_name = "FOLDER", global = true)]
    effects: Option<PathBuf>,
}

#[derive(Debug, Subcommand)]
enum Change {
    /// Name, blend mode, opacity, colour of a bundle, a level or a clip; whether it is hidden; the clip that a level shows
    #[command(
        after_help = "Example:\n  underover edit set friday.toml level:picture/sea --blend screen --opacity 0.4 --out saturday.toml"
    )]
    Set(Set),
    /// Moves a bundle, a level or a clip over, under or into another
    #[command(
        after_help = "Example:\n  underover edit move friday.toml level:picture/lamps --under level:picture/sea --out saturday.toml"
    )]
    Move(MoveTo),
    /// Puts the levels of a bundle into another order
    #[command(
        after_help = "Example:\n  underover edit levels friday.toml picture sea lamps signs --out saturday.toml"
    )]
    Levels(Levels),
    /// Adds footage as a clip of a level, as a level of a bundle, or as a bundle of its own, on top
    #[command(
        after_help = "Example:\n  underover edit add friday.toml quay.png --into level:picture/sea --out saturday.toml"
    )]
    Add(Add),
    /// Puts a copy of a bundle, a level or a clip directly over it
    #[command(
        after_help = "Example:\n  underover edit duplicate friday.toml bundle:picture --out saturday.toml"
    )]
    Duplicate(Of),
    /// Takes a bundle, a level or a clip out
    #[command(
        after_help = "Example:\n  underover edit remove friday.toml level:picture/lamps --out saturday.toml"
    )]
    Remove(Of),
    /// Sections of the set: added, changed, removed
    #[command(
        subcommand,
        after_help = "Example:\n  underover edit section add friday.toml 'open water' --beats 64 --out saturday.toml"
    )]
    Section(SectionChange),
    /// Controls: added, changed, given something to move, removed
    #[command(
        subcommand,
        after_help = "Example:\n  underover edit control add friday.toml Lamp --hand left --kind latching --key L --out saturday.toml"
    )]
    Control(ControlChange),
    /// The sections in the order in which they come
    #[command(
        after_help = "Example:\n  underover edit running-order friday.toml 'casting off' 'open water' landfall --out saturday.toml"
    )]
    RunningOrder(OrderOfSections),
}

#[derive(Debug, Args)]
struct Set {
    #[command(flatten)]
    show: OfShow,
    /// The bundle, level or clip
    scope: String,
    /// Another name
    #[arg(long)]
    name: Option<String>,
    /// How a bundle or a level is laid over what is below it
    #[arg(long)]
    blend: Option<BlendMode>,
    /// Opacity of a bundle or a level, 0 to 1
    #[arg(long, value_name = "SHARE")]
    opacity: Option<f64>,
    /// Whether it is kept out of the picture
    #[arg(long, value_name = "BOOL")]
    hidden: Option<bool>,
    /// What it is told by: an Okabe-Ito name such as sky-blue, #rrggbb, or `none`
    #[arg(long)]
    colour: Option<String>,
    /// The clip that a level shows
    #[arg(long, value_name = "CLIP")]
    showing: Option<String>,
}

#[derive(Debug, Args)]
struct MoveTo {
    #[command(flatten)]
    show: OfShow,
    /// The bundle, level or clip
    scope: String,
    #[command(flatten)]
    to: Place,
}

#[derive(Debug, Args)]
#[group(required = true, multiple = false)]
struct Place {
    /// Directly over this one of its kind
    #[arg(long, value_name = "SCOPE")]
    over: Option<String>,
    /// Directly under this one of its kind
    #[arg(long, value_name = "SCOPE")]
    under: Option<String>,
    /// On top of this bundle or level
    #[arg(long, value_name = "SCOPE")]
    into: Option<String>,
}

#[derive(Debug, Args)]
struct Levels {
    #[command(flatten)]
    show: OfShow,
    /// The bundle's name
    bundle: String,
    /// Every level's name, the lowest first
    #[arg(required = true, value_name = "LEVEL")]
    levels: Vec<String>,
}

#[derive(Debug, Args)]
struct Add {
    #[command(flatten)]
    show: OfShow,
    /// A file, `generated:NAME` or `stand-in:LABEL`
    footage: String,
    /// A level for a clip, a bundle for a level, `global` for a bundle
    #[arg(long, value_name = "SCOPE")]
    into: String,
    /// What it is called; without it, as its footage
    #[arg(long)]
    name: Option<String>,
}

#[derive(Debug, Args)]
struct Of {
    #[command(flatten)]
    show: OfShow,
    /// The bundle, level or clip
    scope: String,
}

impl EditCommand {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let documents = Documents::untried(self.effects.as_deref())?;
        let of = match &self.change {
            Change::Set(set) => &set.show,
            Change::Move(to) => &to.show,
            Change::Levels(levels) => &levels.show,
            Change::Add(add) => &add.show,
            Change::Duplicate(of) | Change::Remove(of) => &of.show,
            Change::Section(change) => change.show(),
            Change::Control(change) => change.show(),
            Change::RunningOrder(order) => order.show(),
        };
        let output = Output::document("--out", &of.out, of.replace).editing(Path::new(&of.show));
        check_places(slice::from_ref(&output))?;
        let (show, original) = documents.show(&of.show, "bundles, levels and clips are those of a show")?;
        let edits = match &self.change {
            Change::Set(set) => set.edits(&show)?,
            Change::Move(to) => vec![to.edit(&show)?],
            Change::Levels(levels) => vec![levels.edit(&show)?],
            Change::Add(add) => vec![add.edit(&show, &documents)?],
            Change::Duplicate(of) => {
                vec![Edit::Structure(StructureEdit::Duplicate(of.part(&show)?))]
            }
            Change::Remove(of) => vec![Edit::Drop(of.part(&show)?)],
            Change::Section(change) => change.edits(&show, &documents)?,
            Change::Control(change) => vec![change.edit(&show)?],
            Change::RunningOrder(order) => vec![order.edit(&show)?],
        };
        let mut changed = show.clone();
        let mut said = String::new();
        for edit in edits {
            let (next, step) = edit.applied(&changed).map_err(|error| WrongWords(error.to_string()))?;
            changed = next;
            said += &format!("{step}\n");
        }
        write_show(&output, &changed, &original)?;
        for line in no_longer_said(&show, &changed) {
            note(&format!("note: {line}"));
        }
        say(&format!("{said}wrote {}\n", of.out.display()))
    }
}

/// Sections that speak of less than before, as what they spoke of is gone.
fn no_longer_said(before: &Show, now: &Show) -> Vec<String> {
    let less = |section: &&Section| {
        let known = before.section_named(&section.name).map(|at| &before.sections[at]);
        known.is_some_and(|known| section.speaks_of() < known.speaks_of())
    };
    let said = |section: &Section| {
        format!("the section {} says nothing any more of what is no longer there", section.name)
    };
    now.sections.iter().filter(less).map(said).collect()
}

impl Of {
    fn part(&self, show: &Show) -> Result<Scope, WrongWords> {
        part("SCOPE", &self.scope, show)
    }
}

impl Set {
    fn edits(&self, show: &Show) -> Result<Vec<Edit>, WrongWords> {
        let scope = part("SCOPE", &self.scope, show)?;
        let mut edits = Vec::new();
        if self.blend.is_some() || self.opacity.is_some() {
            let mix = match scope {
                Scope::Bundle(b) => show.bundles[b].mix,
                Scope::Level(b, l) => show.bundles[b].levels[l].mix,
                Scope::Global | Scope::Clip(..) => {
                    return Err(WrongWords(format!(
                        "{}: blend mode and opacity are those of a bundle or a level; name one",
                        self.scope
                    )));
                }
            };
            let mix =
                Mix { blend: self.blend.unwrap_or(mix.blend), opacity: self.opacity.unwrap_or(mix.opacity) };
            edits.push(Edit::Mix { scope, mix });
        }
        if let Some(hidden) = self.hidden {
            edits.push(Edit::Structure(StructureEdit::Hide { what: scope, hidden }));
        }
        if let Some(colour) = &self.colour {
            let colour = colour_named(colour)?;
            edits.push(Edit::Structure(StructureEdit::Colour { what: scope, colour }));
        }
        if let Some(name) = &self.showing {
            let Scope::Level(bundle, level) = scope else {
                return Err(WrongWords(format!(
                    "--showing: {} is no level, and a level shows one of its clips",
                    self.scope
                )));
            };
            let shown = &show.bundles[bundle].levels[level];
            let clip = clip_named(&format!("--showing {name}"), name, shown, "")?;
            edits.push(Edit::Clip(ClipPlace { bundle, level, clip }, ClipEdit::Show));
        }
        if let Some(name) = &self.name {
            edits.push(Edit::Rename { what: Named::Scope(scope), name: name.clone() });
        }
        if edits.is_empty() {
            return Err(WrongWords(
                "say what is to be set: --name, --blend, --opacity, --hidden, --colour or --showing"
                    .to_owned(),
            ));
        }
        Ok(edits)
    }
}

impl MoveTo {
    fn edit(&self, show: &Show) -> Result<Edit, WrongWords> {
        let what = part("SCOPE", &self.scope, show)?;
        let into = match (&self.to.over, &self.to.under, &self.to.into) {
            (Some(over), ..) => match part("--over", over, show)? {
                Scope::Bundle(b) => Scope::Bundle(b + 1),
                Scope::Level(b, l) => Scope::Level(b, l + 1),
                Scope::Clip(b, l, c) => Scope::Clip(b, l, c + 1),
                Scope::Global => Scope::Global,
            },
            (None, Some(under), _) => part("--under", under, show)?,
            (None, None, into) => match scope_named("--into", into.as_deref().unwrap_or_default(), show)? {
                Scope::Global => Scope::Bundle(show.bundles.len()),
                Scope::Bundle(b) => Scope::Level(b, show.bundles[b].levels.len()),
                Scope::Level(b, l) => Scope::Clip(b, l, show.bundles[b].levels[l].clips.len()),
                clip @ Scope::Clip(..) => clip,
            },
        };
        Ok(Edit::Structure(StructureEdit::Move { what, into }))
    }
}

impl Levels {
    fn edit(&self, show: &Show) -> Result<Edit, WrongWords> {
        let name = self.bundle.strip_prefix("bundle:").unwrap_or(&self.bundle);
        let Scope::Bundle(bundle) = scope_named("BUNDLE", &format!("bundle:{name}"), show)? else {
            return Err(WrongWords(format!("{name} is no bundle")));
        };
        let levels = || show.bundles[bundle].levels.iter().map(|level| level.name.as_str());
        let place = |name: &String| {
            levels().position(|level| level == name).ok_or_else(|| {
                let hint = did_you_mean(name, levels());
                WrongWords(format!(
                    "the bundle has no level named `{name}`{hint} (it has {})",
                    listed(levels())
                ))
            })
        };
        let order = self.levels.iter().map(place).collect::<Result<Vec<usize>, _>>()?;
        Ok(Edit::Structure(StructureEdit::Levels { bundle, order }))
    }
}

impl Add {
    fn edit(&self, show: &Show, documents: &Documents) -> anyhow::Result<Edit> {
        let footage = FootageName::parsed(&self.footage, Path::new(""));
        Shelf::new(&documents.catalogue)
            .glance(&footage)
            .map_err(|error| WrongWords(format!("FOOTAGE: {error}")))?;
        let name = match (&self.name, &footage) {
            (Some(name), _) => name.clone(),
            (None, FootageName::File { path, .. }) => {
                path.file_stem().unwrap_or_default().to_string_lossy().into_owned()
            }
            (None, FootageName::Generated(name) | FootageName::StandIn(_, name)) => name.clone(),
        };
        match scope_named("--into", &self.into, show)? {
            Scope::Clip(..) => Err(WrongWords(format!(
                "--into {}: footage goes onto a level, into a bundle, or over all as a bundle (global)",
                self.into
            ))
            .into()),
            into => Ok(Edit::adding(into, Clip::of(&name, footage))),
        }
    }
}
