//! `underover edit section` and `underover edit running-order`: the sections of a show changed, as the window does it.

use clap::{Args, Subcommand};

use super::WrongWords;
use super::documents::Documents;
use super::edited::{OfShow, clip_named, colour_named, part, scope_named, section_named};
use crate::base::place::{did_you_mean, listed};
use crate::edit::{Edit, SectionEdit, Shows};
use crate::order::marks;
use crate::show::chain::labels;
use crate::show::{Scope, Section, Show};

#[derive(Debug, Subcommand)]
pub(super) enum SectionChange {
    /// Adds a section behind the others
    #[command(
        after_help = "Examples:\n  underover edit section add preset:landfall 'open water' --beats 64 --fade 4 --out friday.toml\n  underover edit section add friday.toml break --as-it-stands --out friday.toml"
    )]
    Add(Add),
    /// Name, length, fade, colour, note of a section; what shows in it
    #[command(
        after_help = "Example:\n  underover edit section set friday.toml 'open water' --shows picture/sea=waves --opacity picture=0.4 --out saturday.toml"
    )]
    Set(Set),
    /// Puts a copy of a section behind it
    #[command(
        after_help = "Example:\n  underover edit section duplicate friday.toml 'open water' --out saturday.toml"
    )]
    Duplicate(Of),
    /// Moves a section before another in the list; the running order stays
    #[command(
        after_help = "Example:\n  underover edit section move friday.toml break --before 'open water' --out saturday.toml"
    )]
    Move(Move),
    /// Takes a section out, and out of the running order
    #[command(
        after_help = "Example:\n  underover edit section remove friday.toml 'open water' --out saturday.toml"
    )]
    Remove(Of),
}

#[derive(Debug, Args)]
pub(super) struct Add {
    #[command(flatten)]
    show: OfShow,
    /// Its name
    section: String,
    /// Hold what every level shows now, and every opacity, so that it stays so whatever else changes
    #[arg(long)]
    as_it_stands: bool,
    #[command(flatten)]
    says: Says,
}

#[derive(Debug, Args)]
pub(super) struct Set {
    #[command(flatten)]
    show: OfShow,
    /// The section
    section: String,
    /// Another name
    #[arg(long)]
    name: Option<String>,
    #[command(flatten)]
    says: Says,
}

#[derive(Debug, Args)]
pub(super) struct Of {
    #[command(flatten)]
    show: OfShow,
    /// The section
    section: String,
}

#[derive(Debug, Args)]
pub(super) struct Move {
    #[command(flatten)]
    show: OfShow,
    /// The section
    section: String,
    /// The section that it then stands before; `end` puts it last
    #[arg(long, value_name = "SECTION")]
    before: String,
}

/// What a section says.
#[derive(Debug, Args)]
struct Says {
    /// How many beats it lasts, or `open`: until the next is called
    #[arg(long, value_name = "BEATS", value_parser = beats)]
    beats: Option<Lasts>,
    /// Beats in which it takes over from the section before; 0 cuts
    #[arg(long, value_name = "BEATS")]
    fade: Option<f64>,
    /// What it is told by: an Okabe-Ito name such as sky-blue, #rrggbb, or `none`
    #[arg(long)]
    colour: Option<String>,
    /// What to keep in mind while it plays
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
    /// The clip that a level shows in it, or `none`; may be given again
    #[arg(long, value_name = "BUNDLE/LEVEL=CLIP")]
    shows: Vec<String>,
    /// Opacity of a bundle or a level in it, 0 to 1; may be given again
    #[arg(long, value_name = "BUNDLE[/LEVEL]=SHARE")]
    opacity: Vec<String>,
    /// The chain that lies on a scope in it, library:NAME or preset:NAME; may be given again
    #[arg(long, value_name = "SCOPE=CHAIN")]
    chain: Vec<String>,
    /// Whether an effect is on in it: `on`, `off`, or `as-it-is`; may be given again
    #[arg(long, value_name = "SCOPE/EFFECT=STATE")]
    effect: Vec<String>,
    /// Where a control stands in it, 0 to 1, or `as-it-is`; may be given again
    #[arg(long, value_name = "NAME=POSITION")]
    control: Vec<String>,
    /// A scope of which it says nothing any more; may be given again
    #[arg(long, value_name = "SCOPE")]
    leave: Vec<String>,
}

/// How long a section lasts.
#[derive(Debug, Clone, Copy)]
struct Lasts(Option<f64>);

fn beats(text: &str) -> Result<Lasts, String> {
    match text.parse::<f64>() {
        Ok(beats) if beats.is_finite() => Ok(Lasts(Some(beats))),
        _ if text == "open" => Ok(Lasts(None)),
        _ => Err("a number of beats is wanted, such as 64, or `open`".to_owned()),
    }
}

/// The sections in the order in which they come.
#[derive(Debug, Args)]
pub(super) struct OrderOfSections {
    #[command(flatten)]
    show: OfShow,
    /// Sections, the first first; one may come again. `none` alone takes the running order away
    #[arg(required = true, value_name = "SECTION")]
    sections: Vec<String>,
}

impl OrderOfSections {
    pub(super) fn show(&self) -> &OfShow {
        &self.show
    }

    pub(super) fn edit(&self, show: &Show) -> Result<Edit, WrongWords> {
        let order = match &self.sections[..] {
            [none] if none == "none" && show.section_named(none).is_none() => Vec::new(),
            names => {
                names.iter().map(|name| section_named("SECTION", name, show)).collect::<Result<_, _>>()?
            }
        };
        Ok(Edit::Section(SectionEdit::Order(order)))
    }
}

impl SectionChange {
    pub(super) fn show(&self) -> &OfShow {
        match self {
            Self::Add(add) => &add.show,
            Self::Set(set) => &set.show,
            Self::Duplicate(of) | Self::Remove(of) => &of.show,
            Self::Move(to) => &to.show,
        }
    }

    pub(super) fn edits(&self, show: &Show, documents: &Documents) -> anyhow::Result<Vec<Edit>> {
        let named = |name: &str| section_named("SECTION", name, show);
        let edits = match self {
            Self::Add(add) => {
                if show.section_named(&add.section).is_some() {
                    return Err(WrongWords(format!(
                        "a section named `{}` is already there; `underover edit section set` changes it",
                        add.section
                    ))
                    .into());
                }
                let section = match add.as_it_stands {
                    true => Section::as_it_stands(&add.section, show),
                    false => Section::of(&add.section),
                };
                let mut edits = vec![SectionEdit::Add(Box::new(section))];
                edits.extend(add.says.edits(show.sections.len(), show, documents)?);
                edits
            }
            Self::Set(set) => {
                let section = named(&set.section)?;
                let mut edits = set.says.edits(section, show, documents)?;
                edits.extend(set.name.clone().map(|name| SectionEdit::Rename { section, name }));
                if edits.is_empty() {
                    return Err(WrongWords(
                        "say what is to be set: --name, --beats, --fade, --colour, --note, --shows, --opacity, --chain, --effect, --control or --leave"
                            .to_owned(),
                    )
                    .into());
                }
                edits
            }
            Self::Duplicate(of) => vec![SectionEdit::Duplicate(named(&of.section)?)],
            Self::Remove(of) => vec![SectionEdit::Remove(named(&of.section)?)],
            Self::Move(to) => {
                let into = match to.before.as_str() {
                    "end" if show.section_named("end").is_none() => show.sections.len(),
                    before => section_named("--before", before, show)?,
                };
                vec![SectionEdit::Move { from: named(&to.section)?, into }]
            }
        };
        Ok(edits.into_iter().map(Edit::Section).collect())
    }
}

/// The two sides of `NAME=VALUE`; a name may hold a sign itself, a value does not.
fn sides<'a>(option: &str, written: &'a str, example: &str) -> Result<(&'a str, &'a str), WrongWords> {
    written.rsplit_once('=').ok_or_else(|| {
        WrongWords(format!("{option} {written}: a name and a value are wanted, such as {option} {example}"))
    })
}

impl Says {
    fn edits(&self, section: usize, show: &Show, documents: &Documents) -> anyhow::Result<Vec<SectionEdit>> {
        let mut edits = Vec::new();
        for written in &self.leave {
            let scope = scope_of("--leave", written, show)?;
            edits.extend(left(section, scope));
        }
        // What is longer comes first where both change, so that neither step is refused on the way.
        let beats = self.beats.map(|Lasts(beats)| SectionEdit::Beats { section, beats });
        let fade = self.fade.map(|beats| SectionEdit::Fade { section, beats });
        let was = show.sections.get(section).map_or(0.0, |section| section.fade);
        match self.fade {
            Some(fade) if fade < was => edits.extend(fade_first(fade, section, beats)),
            _ => edits.extend(beats.into_iter().chain(fade)),
        }
        if let Some(colour) = &self.colour {
            let colour = colour_named(colour)?;
            edits.push(SectionEdit::Colour { section, colour });
        }
        edits.extend(self.note.clone().map(|note| SectionEdit::Note { section, note }));
        for written in &self.shows {
            let (level, clip) = sides("--shows", written, "picture/sea=waves")?;
            let Scope::Level(b, l) = scope_of("--shows", level, show)? else {
                return Err(WrongWords(format!("--shows {level}: it takes a level, as BUNDLE/LEVEL")).into());
            };
            let shown = &show.bundles[b].levels[l];
            let addressed = clip.strip_prefix("clip:");
            let shows = match (clip, shown.clips.iter().position(|known| Some(&*known.name) == addressed)) {
                (_, Some(clip)) => Shows::Clip(clip),
                ("none", _) => Shows::Nothing,
                (name, _) => {
                    let said = format!("--shows {level}={name}");
                    Shows::Clip(clip_named(&said, name, shown, "; `none` shows nothing")?)
                }
            };
            edits.push(SectionEdit::Shows { section, level: [b, l], shows });
        }
        for written in &self.opacity {
            let (name, share) = sides("--opacity", written, "picture/sea=0.4")?;
            let scope = scope_of("--opacity", name, show)?;
            if !matches!(scope, Scope::Bundle(_) | Scope::Level(..)) {
                return Err(
                    WrongWords(format!("--opacity {name}: opacity is that of a bundle or a level")).into()
                );
            }
            let share = share.parse().map_err(|_| {
                WrongWords(format!("--opacity {written}: a share from 0 to 1 is wanted, such as {name}=0.4"))
            })?;
            edits.push(SectionEdit::Opacity { section, scope, opacity: Some(share) });
        }
        for written in &self.chain {
            let (name, chain) = sides("--chain", written, "bundle:picture=library:amber")?;
            let scope = scope_named("--chain", name, show)?;
            // A name that leads nowhere is told here, not on the night.
            documents.chain(chain)?;
            edits.push(SectionEdit::Chain { section, scope, chain: Some(chain.to_owned()) });
        }
        for written in &self.effect {
            edits.push(switch(section, written, show)?);
        }
        for written in &self.control {
            let (name, position) = sides("--control", written, "glow=0.7")?;
            if !show.controls.iter().any(|control| control.name == name) {
                let known = || show.controls.iter().map(|control| control.name.as_str());
                let hint = did_you_mean(name, known());
                let known = if show.controls.is_empty() { "none".to_owned() } else { listed(known()) };
                return Err(WrongWords(format!(
                    "--control {written}: there is no control `{name}`{hint} (the show has {known})"
                ))
                .into());
            }
            let position = match position {
                AS_IT_IS => None,
                position => Some(position.parse().map_err(|_| {
                    WrongWords(format!(
                        "--control {written}: a position from 0 to 1 is wanted, such as {name}=0.7, or `{AS_IT_IS}`"
                    ))
                })?),
            };
            edits.push(SectionEdit::Controls { section, positions: vec![(name.to_owned(), position)] });
        }
        Ok(edits)
    }
}

/// What says nothing of an effect or a control any more.
const AS_IT_IS: &str = "as-it-is";

/// What `SCOPE/EFFECT=STATE` says; a scope's address and an effect's name may hold the sign between them.
fn switch(section: usize, written: &str, show: &Show) -> Result<SectionEdit, WrongWords> {
    let (name, state) = sides("--effect", written, "bundle:picture/mirror=off")?;
    let on = match state {
        "on" => Some(true),
        "off" => Some(false),
        AS_IT_IS => None,
        _ => {
            return Err(WrongWords(format!(
                "--effect {written}: `on`, `off` or `{AS_IT_IS}` is wanted, such as {name}=off"
            )));
        }
    };
    let mut hint = String::new();
    for (at, _) in name.match_indices('/').rev() {
        let (address, label) = (&name[..at], &name[at + 1..]);
        let Ok(scope) = show.scope_named(address) else { continue };
        let chain = show.chain(scope);
        let labels = labels(chain);
        if let Some(place) = labels.iter().position(|known| known == label) {
            let marks = vec![marks(chain).of(place)];
            return Ok(SectionEdit::Effects { section, scope, marks, on });
        }
        let known = || labels.iter().map(String::as_str);
        let has = if labels.is_empty() { "no effects".to_owned() } else { listed(known()) };
        hint = format!("; {address} has no effect `{label}`{} (it has {has})", did_you_mean(label, known()));
        break;
    }
    Err(WrongWords(format!(
        "--effect {written}: a scope and an effect of it are wanted, such as bundle:picture/mirror=off{hint}"
    )))
}

/// Length and fade of a section that comes faster than before.
fn fade_first(beats: f64, section: usize, lasts: Option<SectionEdit>) -> Vec<SectionEdit> {
    [SectionEdit::Fade { section, beats }].into_iter().chain(lasts).collect()
}

/// What takes away all that a section says of a scope.
fn left(section: usize, scope: Scope) -> Vec<SectionEdit> {
    let mut edits = vec![SectionEdit::Chain { section, scope, chain: None }];
    if let Scope::Level(b, l) = scope {
        edits.push(SectionEdit::Shows { section, level: [b, l], shows: Shows::AsItStands });
    }
    if matches!(scope, Scope::Bundle(_) | Scope::Level(..)) {
        edits.push(SectionEdit::Opacity { section, scope, opacity: None });
    }
    edits
}

/// A bundle or a level as sections name it, or any scope by its address.
fn scope_of(option: &str, written: &str, show: &Show) -> Result<Scope, WrongWords> {
    match written {
        "global" => Ok(Scope::Global),
        address if address.contains(':') => part(option, address, show),
        level if level.contains('/') => scope_named(option, &format!("level:{level}"), show),
        bundle => scope_named(option, &format!("bundle:{bundle}"), show),
    }
}
