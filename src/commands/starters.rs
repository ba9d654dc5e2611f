//! `underover starters`: shows without footage, to begin the next one from.

use std::path::{Path, PathBuf};
use std::slice;

use clap::{Args, Subcommand};

use super::documents::{Documents, read_here, scope_refused, text_from, worded, write_show};
use super::edited::section_named;
use super::lessons::wrapped;
use super::library::{listed_entries, wish};
use super::output::{Output, Replace, check_places, say};
use super::usages::{Among, same_file};
use super::{WrongWords, note};
use crate::base::shown::shown;
use crate::edit::{Bring, Pack, Packed, Way};
use crate::files::{Document, Original};
use crate::footage::Shelf;
use crate::library::{Kind, LIBRARY, Usage, begun, handle_of, relinked, starter_of};
use crate::output::sections::sections;
use crate::show::chain::labels;
use crate::show::{Scope, Show};

/// The options of `starters`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  underover starters list
  underover starters about festival-night
  underover starters begin festival-night --name \"Quay, Friday\" --out quay.toml
  underover starters keep friday.toml --name \"Quay nights\"
  underover starters bring quay.toml --what bundle:pictures --into friday.toml --out both.toml

A starter is a show file with a labelled stand-in (`stand-in:LABEL`) in place of every piece of footage; it renders and \
measures like any show. It lies in `starters` in the folder that UNDEROVER_DATA names, or the system's folder for your \
data.")]
pub(super) struct Starters {
    #[command(subcommand)]
    work: Work,
    /// A folder of .wgsl files: effects of your own
    #[arg(long, value_name = "FOLDER", global = true)]
    effects: Option<PathBuf>,
}

#[derive(Debug, Subcommand)]
enum Work {
    /// Every starter of the library, and of the program
    #[command(after_help = "Example:\n  underover starters list tag:festival")]
    List(List),
    /// What a starter is for, why it is built so, and what is in it
    #[command(after_help = "Example:\n  underover starters about rehearsed-set")]
    About(AboutIt),
    /// Keeps a show as a starter: its structure, chains, sections and controls, without its footage
    #[command(after_help = "Example:\n  underover starters keep friday.toml --name \"Quay nights\"")]
    Keep(Keep),
    /// Begins a show from a starter
    #[command(
        after_help = "Example:\n  underover starters begin festival-night --name \"Quay, Friday\" --out friday.toml"
    )]
    Begin(Begin),
    /// Brings a bundle, a level, a clip or a chain of one show into another
    #[command(
        name = "bring",
        after_help = "\
Examples:
  underover starters bring friday.toml --what bundle:signs --into saturday.toml --out saturday.toml
  underover starters bring friday.toml --what level:picture/lamp --in bundle:picture --into saturday.toml --out new.toml
  underover starters bring friday.toml --what bundle:picture --chain-onto global --way over --into saturday.toml --out new.toml
  underover starters bring guest.toml --what clips --footage ~/guest --into friday.toml --out friday.toml
  underover starters bring friday.toml --what clips --of-section landfall --into saturday.toml --out saturday.toml

Where a name is taken in the show, what is brought gets a number; controls that it needs come along. All that is changed \
on the way is listed."
    )]
    Bring(BringIn),
    /// The shows that hold clips of one, and how these stand
    #[command(after_help = "\
Example:
  underover starters used-in guest.toml shows/

Without folders, the shows that were opened in the window lately are looked at.")]
    UsedIn(UsedIn),
}

#[derive(Debug, Args)]
struct List {
    /// Words, `tag:T`, `effect:E`, `colour:C`: only those that a search finds
    #[arg(value_name = "WORD")]
    words: Vec<String>,
    /// The figures to write (`-` is standard output)
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    #[command(flatten)]
    replace: Replace,
}

#[derive(Debug, Args)]
struct AboutIt {
    /// Its name in the library, or a starter file
    #[arg(value_parser = read_here)]
    starter: String,
}

#[derive(Debug, Args)]
struct Keep {
    /// A show file, or `preset:NAME`
    #[arg(value_parser = read_here)]
    show: String,
    /// What the starter is called
    #[arg(long)]
    name: Option<String>,
    /// A starter file to write, instead of the library
    #[arg(long, value_name = "NEW.toml")]
    out: Option<PathBuf>,
    #[command(flatten)]
    replace: Replace,
}

#[derive(Debug, Args)]
struct Begin {
    /// Its name in the library, or a starter file
    #[arg(value_parser = read_here)]
    starter: String,
    /// What the show is called
    #[arg(long)]
    name: Option<String>,
    /// The show file to write
    #[arg(long, value_name = "NEW.toml")]
    out: PathBuf,
    #[command(flatten)]
    replace: Replace,
}

#[derive(Debug, Args)]
struct BringIn {
    /// The show that something is brought from
    #[arg(value_parser = read_here)]
    from: String,
    /// What: bundle:NAME, level:BUNDLE/LEVEL, clip:BUNDLE/LEVEL/CLIP, or `clips`: all of them, each to the level that is
    /// called alike; with --chain-onto any scope
    #[arg(long, value_name = "SCOPE")]
    what: String,
    /// The show that it is brought into
    #[arg(long, value_name = "SHOW", value_parser = read_here)]
    into: String,
    /// With `--what clips`: the clips that this section shows, and the section itself
    #[arg(long, value_name = "NAME", conflicts_with_all = ["place", "chain_onto"])]
    of_section: Option<String>,
    /// With `--what clips`: the folder in which their footage lies here, by the names of its files; what is missing there
    /// and where it was has a stand-in
    #[arg(long, value_name = "FOLDER", conflicts_with_all = ["place", "chain_onto"])]
    footage: Option<PathBuf>,
    /// Where a level or a clip goes: bundle:NAME or level:BUNDLE/LEVEL
    #[arg(long = "in", value_name = "SCOPE")]
    place: Option<String>,
    /// Brings the chain alone, onto this scope
    #[arg(long, value_name = "SCOPE", conflicts_with = "place")]
    chain_onto: Option<String>,
    /// How the chain is put there
    #[arg(long, requires = "chain_onto")]
    way: Option<Way>,
    /// The show file to write: the same one, or a new one
    #[arg(long, value_name = "NEW.toml")]
    out: PathBuf,
    #[command(flatten)]
    replace: Replace,
}

#[derive(Debug, Args)]
struct UsedIn {
    /// The show whose clips were brought: a show file, or `preset:NAME`
    #[arg(value_parser = read_here)]
    from: String,
    #[command(flatten)]
    among: Among,
}

impl Starters {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let documents = Documents::untried(self.effects.as_deref())?;
        match &self.work {
            Work::List(list) => {
                let wish = wish(&list.words)?;
                let output = list.json.as_deref().map(|path| Output::figures(path, list.replace));
                listed_entries(documents.library(), Kind::Starter, &wish, output)
            }
            Work::About(about) => say(&page_of(&starter_named(&about.starter, &documents)?.0)),
            Work::Keep(keep) => keep.run(&documents),
            Work::Begin(begin) => begin.run(&documents),
            Work::Bring(bring) => bring.run(&documents),
            Work::UsedIn(used) => {
                used.among.check()?;
                let (pack, _) = documents.show(&used.from, "clips are brought from a show")?;
                let of = |file: &Path, show: &Show| {
                    let is_it = same_file(file, Path::new(&used.from));
                    if is_it { None } else { Usage::of_pack(file, show, &pack) }
                };
                used.among.tell(&documents, &format!("clips of {}", pack.name), of)
            }
        }
    }
}

impl Keep {
    fn run(&self, documents: &Documents) -> anyhow::Result<()> {
        let output = self.out.as_deref().map(|out| Output::document("--out", out, self.replace));
        check_places(output.as_slice())?;
        let (show, original) = documents.show(&self.show, "a starter is made of a show")?;
        let show = Show { name: self.name.clone().unwrap_or(show.name.clone()), ..show };
        let (starter, notes) = starter_of(&show, &mut Shelf::new(&documents.catalogue));
        notes.iter().for_each(|line| note(&format!("note: {line}")));
        let file = match &output {
            Some(output) => {
                write_show(output, &starter, &original)?;
                output.path().to_owned()
            }
            None => {
                let kept = documents.library().keep_text(Kind::Starter, &starter.name, |name| {
                    let starter = Show { name: name.to_owned(), ..starter.clone() };
                    text_from(Some(&original), &Document::Show(starter), Path::new(""))
                });
                kept.map_err(worded)?
            }
        };
        say(&format!(
            "kept: {} (begin from it with `underover starters begin {}`)\n",
            file.display(),
            self.handle(&file)
        ))
    }

    /// What `begin` takes for it.
    fn handle(&self, file: &Path) -> String {
        if self.out.is_some() { file.display().to_string() } else { handle_of(file) }
    }
}

impl Begin {
    fn run(&self, documents: &Documents) -> anyhow::Result<()> {
        let output = Output::document("--out", &self.out, self.replace);
        check_places(slice::from_ref(&output))?;
        let (starter, original) = starter_named(&self.starter, documents)?;
        let show = begun(&starter, self.name.as_deref());
        write_show(&output, &show, &original)?;
        let clips = show.scopes().into_iter().filter(|scope| matches!(scope, Scope::Clip(..)));
        let waiting: Vec<String> = clips.map(|scope| format!("  {}\n", show.address(scope))).collect();
        say(&format!(
            "wrote {}\nThese clips wait for footage; until then a stand-in shows:\n{}",
            self.out.display(),
            waiting.concat()
        ))
    }
}

/// What a starter says of itself, and what it is made of.
fn page_of(starter: &Show) -> String {
    let mut text = format!("{}\n", starter.name);
    for paragraph in starter.about.split("\n\n").map(str::trim).filter(|paragraph| !paragraph.is_empty()) {
        text += &format!("\n{}", wrapped(paragraph, ""));
    }
    text += "\nWhat is in it, the lowest first:\n";
    let mut line = |text_of: &str| text += &format!("  {}", wrapped(text_of, "      "));
    for bundle in &starter.bundles {
        for level in &bundle.levels {
            let clips: Vec<&str> = level.clips.iter().map(|clip| clip.name.as_str()).collect();
            line(&format!("level:{}/{}: {}", bundle.name, level.name, clips.join(", ")));
        }
    }
    for scope in starter.scopes().into_iter().filter(|&scope| !starter.chain(scope).is_empty()) {
        line(&format!("on {}: {}", starter.address(scope), labels(starter.chain(scope)).join(", ")));
    }
    for control in &starter.controls {
        line(&format!("control {}: {}, {} hand", control.name, control.kind.name(), control.hand.name()));
    }
    // Without a running order, as where each begins hangs on those that wait to be called.
    for section in sections(starter, None) {
        line(&format!("section {}; {}", section.heading, section.lines.join("; ")));
    }
    if !starter.running_order.is_empty() {
        let order = starter.running_order.iter().map(|&at| starter.sections[at].name.as_str());
        line(&format!("running order: {}", order.collect::<Vec<_>>().join(", ")));
    }
    text += "\nBegin a show from it: underover starters begin NAME --out NEW.toml\n";
    shown(&text).into_owned()
}

/// A starter of the library, or in a file.
fn starter_named(name: &str, documents: &Documents) -> anyhow::Result<(Show, Original)> {
    let original = if Path::new(name).extension().is_some() || Path::new(name).exists() {
        documents.show(name, "a show begins from a starter")?.1
    } else {
        let handle = name.strip_prefix(LIBRARY).unwrap_or(name);
        let library = documents.library();
        let entry = library.find(Kind::Starter, handle).map_err(worded)?;
        library.original(entry, &documents.catalogue)?
    };
    match original.document().clone() {
        Document::Show(show) if show.is_starter => Ok((show, original)),
        _ => Err(WrongWords(format!(
            "{name} is no starter; `underover starters keep {name}` makes one of a show"
        ))
        .into()),
    }
}

/// What `--what` calls every clip of a show.
const CLIPS: &str = "clips";

impl BringIn {
    /// Brings the clips of a show, or of one of its sections.
    fn bring_clips(
        &self,
        from: &Show,
        (show, original): (&Show, &Original),
        output: &Output,
    ) -> anyhow::Result<()> {
        let section = match &self.of_section {
            None => None,
            Some(name) => Some(section_named("--of-section", name, from)?),
        };
        if let Some(folder) = self.footage.as_deref().filter(|folder| !folder.is_dir()) {
            return Err(WrongWords(format!("--footage: there is no folder {}", folder.display())).into());
        }
        let mut pack = Pack { from: from.clone(), section, links: Vec::new() };
        pack.links = relinked(&pack, self.footage.as_deref());
        let Packed { show: changed, clips, notes } =
            pack.done(show).map_err(|error| anyhow::anyhow!("{error}"))?;
        let brought: String =
            clips.into_iter().map(|scope| format!("  {}\n", changed.address(scope))).collect();
        write_show(output, &changed, original)?;
        let lines: Vec<String> = notes.iter().map(|line| format!("  note: {line}\n")).collect();
        say(&format!(
            "brought from {}:\n{brought}{}wrote {}\n",
            self.from,
            lines.concat(),
            self.out.display()
        ))
    }

    fn run(&self, documents: &Documents) -> anyhow::Result<()> {
        let output = Output::document("--out", &self.out, self.replace).editing(Path::new(&self.into));
        check_places(slice::from_ref(&output))?;
        let (from, _) = documents.show(&self.from, "parts are brought from a show")?;
        let (show, original) = documents.show(&self.into, "parts are brought into a show")?;
        let named = |option: &str, written: &str, show: &Show| {
            show.scope_named(written).map_err(|error| scope_refused(option, &error, show))
        };
        if self.what == CLIPS {
            return self.bring_clips(&from, (&show, &original), &output);
        }
        if self.of_section.is_some() || self.footage.is_some() {
            let option = if self.of_section.is_some() { "--of-section" } else { "--footage" };
            return Err(WrongWords(format!("{option} goes with --what {CLIPS}; leave it out")).into());
        }
        let what = named("--what", &self.what, &from)?;
        let into = self.place.as_deref().map(|place| named("--in", place, &show)).transpose()?;
        let way = self.way.unwrap_or_default();
        let onto = self.chain_onto.as_deref().map(|scope| named("--chain-onto", scope, &show)).transpose()?;
        let bring = Bring { from, what, into, onto: onto.map(|scope| (scope, way)) };
        let (changed, notes) = bring.done(&show).map_err(|error| anyhow::anyhow!("{error}"))?;
        write_show(&output, &changed, &original)?;
        let lines: Vec<String> = notes.iter().map(|line| format!("  {line}\n")).collect();
        say(&format!(
            "brought {} from {}\n{}wrote {}\n",
            self.what,
            self.from,
            lines.concat(),
            self.out.display()
        ))
    }
}
