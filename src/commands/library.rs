//! `underover library`: chains kept from show to show.

use std::path::{Path, PathBuf};
use std::slice;

use clap::{Args, Subcommand};
use serde::Serialize;

use super::documents::{Documents, read_here, scope_refused, text_from, worded, write_show};
use super::output::{Output, Replace, check_outputs, check_places, say};
use super::usages::{Among, each_show, looked_at, same_file};
use super::{WrongWords, note};
use crate::edit::{Edit, Put, Way};
use crate::files::Document;
use crate::library::{
    Entry, Kind, LIBRARY, Library, LibraryError, Usage, Wish, colour_word, content_of_chain, handle_of,
    sections_naming, shows_under,
};
use crate::output::orders_wall::quoted;
use crate::show::Show;
use crate::show::chain::{Preset, one_after_another};

/// The options of `library`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  underover library list
  underover library find tag:warm effect:tint
  underover library keep friday.toml --scope bundle:picture --name \"Friday lines\"
  underover library put friday-lines --on global --show friday.toml --way over --out saturday.toml

The library is a folder of chain files: `chains` in the folder that UNDEROVER_DATA names, or the system's folder for \
your data. Wherever a chain file is asked for, `library:NAME` names one of them, as in `underover render library:friday-lines --out lines.png`. What is removed goes to `bin`, from \
where it can be restored.")]
pub(super) struct LibraryCommand {
    #[command(subcommand)]
    work: Work,
    /// A folder of .wgsl files: effects of your own
    #[arg(long, value_name = "FOLDER", global = true)]
    effects: Option<PathBuf>,
}

#[derive(Debug, Subcommand)]
enum Work {
    /// Every chain of the library, and of the program
    #[command(after_help = "Example:\n  underover library list --json -")]
    List(List),
    /// The chains that a search finds
    #[command(after_help = FIND)]
    Find(Find),
    /// Keeps a chain file, or the chain of a scope of a show
    #[command(after_help = "\
Examples:
  underover library keep lines.toml
  underover library keep friday.toml --scope bundle:picture --name \"Friday lines\" --tag warm")]
    Keep(Keep),
    /// Gives one another name
    #[command(after_help = "\
Examples:
  underover library rename friday-lines \"Saturday lines\"
  underover library rename friday-lines \"Saturday lines\" shows/

Shows keep the copies that they hold. Sections that lay it by its name are told, of the shows named and of those opened \
in the window lately, each with the command that has it lay the new name; no show is changed.")]
    Rename(Rename),
    /// Keeps a copy of one, to be changed
    #[command(after_help = "Example:\n  underover library duplicate lamp-lines --name \"My lamp lines\"")]
    Duplicate(Duplicate),
    /// Moves one to the bin
    #[command(after_help = "Example:\n  underover library remove friday-lines")]
    Remove(Remove),
    /// Moves one back from the bin
    #[command(
        after_help = "Examples:\n  underover library list --removed\n  underover library restore friday-lines"
    )]
    Restore(Restore),
    /// The shows that hold a copy of one
    #[command(after_help = "\
Example:
  underover library used-in friday-lines shows/

Without folders, the shows that were opened in the window lately are looked at.")]
    UsedIn(UsedIn),
    /// Puts a copy of one onto a scope of a show
    #[command(after_help = "\
Examples:
  underover library put friday-lines --on bundle:picture --show saturday.toml --out saturday.toml
  underover library put preset:lamp-lines --on global --show saturday.toml --way over --out other.toml

The show notes where the chain is from. It keeps its copy: what changes in the library changes no show, and \
`underover check` tells where there is a newer one.")]
    #[command(name = "put")]
    PutOn(PutOn),
}

const FIND: &str = "\
Examples:
  underover library find lamp
  underover library find tag:warm effect:tint colour:orange
  underover library find colour:#ff8c33

All that is asked for has to be met. A plain word is looked for in names, texts, tags, effects and colours; `tag:` and \
`effect:` match the beginning of one; `colour:` takes a word or #rrggbb, and finds what is near it.";

#[derive(Debug, Args)]
struct List {
    /// What was removed, instead
    #[arg(long)]
    removed: bool,
    /// The figures to write (`-` is standard output)
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    #[command(flatten)]
    replace: Replace,
}

#[derive(Debug, Args)]
struct Find {
    /// Words, `tag:T`, `effect:E`, `colour:C`
    #[arg(required = true, value_name = "WORD")]
    words: Vec<String>,
    /// The figures to write (`-` is standard output)
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    #[command(flatten)]
    replace: Replace,
}

#[derive(Debug, Args)]
struct Keep {
    /// A chain or show file, or `preset:NAME`
    file: String,
    /// The scope of a show whose chain is kept
    #[arg(long, value_name = "S")]
    scope: Option<String>,
    /// What it is called from now on
    #[arg(long)]
    name: Option<String>,
    /// A word to find it by; may be given several times
    #[arg(long = "tag", value_name = "TAG")]
    tags: Vec<String>,
}

#[derive(Debug, Args)]
struct Named {
    /// Its name in the library
    name: String,
    /// It is a starter, not a chain
    #[arg(long)]
    starter: bool,
}

#[derive(Debug, Args)]
struct Rename {
    #[command(flatten)]
    old: Named,
    /// The new name
    new: String,
    /// Show files, or folders of them, whose sections may lay it
    #[arg(value_name = "PATH")]
    paths: Vec<PathBuf>,
}

#[derive(Debug, Args)]
struct Remove {
    #[command(flatten)]
    old: Named,
    /// Show files, or folders of them, whose sections may lay it
    #[arg(value_name = "PATH")]
    paths: Vec<PathBuf>,
}

#[derive(Debug, Args)]
struct Duplicate {
    #[command(flatten)]
    old: Named,
    /// The name of the copy; without it, the old one with a number
    #[arg(long = "name", value_name = "NAME")]
    new: Option<String>,
}

#[derive(Debug, Args)]
struct Restore {
    /// Its name, or its number in the list of what was removed
    name: String,
}

#[derive(Debug, Args)]
struct UsedIn {
    /// Its name in the library
    name: String,
    #[command(flatten)]
    among: Among,
}

#[derive(Debug, Args)]
struct PutOn {
    /// Its name in the library, `preset:NAME`, or a chain file
    #[arg(value_parser = read_here)]
    chain: String,
    /// The scope: global, bundle:NAME, level:BUNDLE/LEVEL or clip:BUNDLE/LEVEL/CLIP
    #[arg(long, value_name = "SCOPE")]
    on: String,
    /// The show file
    #[arg(long, value_name = "FILE", value_parser = read_here)]
    show: String,
    /// Where it goes: in place of what is there, under it, or over it
    #[arg(long, default_value = "replace")]
    way: Way,
    /// Leave the controls that it was kept with: without it they come along, with what they hold of it
    #[arg(long)]
    without_controls: bool,
    /// The show file to write: the same one, or a new one
    #[arg(long, value_name = "NEW.toml")]
    out: PathBuf,
    #[command(flatten)]
    replace: Replace,
}

impl LibraryCommand {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let documents = Documents::untried(self.effects.as_deref())?;
        let library = documents.library();
        match &self.work {
            Work::List(list) if list.removed => removed(library, list.output()),
            Work::List(list) => listed_entries(library, Kind::Chain, &Wish::default(), list.output()),
            Work::Find(find) => {
                let output = find.json.as_deref().map(|path| Output::figures(path, find.replace));
                listed_entries(library, Kind::Chain, &wish(&find.words)?, output)
            }
            Work::Keep(keep) => keep.run(&documents),
            Work::Rename(rename) => {
                let entry = rename.old.entry(library)?;
                let file = library.rename(entry, &rename.new).map_err(worded)?;
                say(&format!("renamed: {}\n", file.display()))?;
                let now = format!("{LIBRARY}{}", handle_of(&file));
                tell_sections(&documents, entry, &now, &rename.paths);
                Ok(())
            }
            Work::Duplicate(copy) => {
                let file = library
                    .duplicate(copy.old.entry(library)?, copy.new.as_deref(), &documents.catalogue)
                    .map_err(worded)?;
                say(&format!("kept: {}\n", file.display()))
            }
            Work::Remove(remove) => {
                let entry = remove.old.entry(library)?;
                let removed = library.remove(entry).map_err(worded)?;
                say(&format!(
                    "removed: {} (number {}; `underover library restore {}` brings it back)\n",
                    removed.handle, removed.number, removed.handle
                ))?;
                tell_sections(&documents, entry, "library:ANOTHER", &remove.paths);
                Ok(())
            }
            Work::Restore(restore) => {
                let removed = library.find_removed(&restore.name).map_err(worded)?;
                let file = library.restore(&removed).map_err(worded)?;
                say(&format!("restored: {}\n", file.display()))
            }
            Work::UsedIn(used) => used.run(&documents),
            Work::PutOn(put) => put.run(&documents),
        }
    }
}

impl List {
    fn output(&self) -> Option<Output<'_>> {
        self.json.as_deref().map(|path| Output::figures(path, self.replace))
    }
}

impl Named {
    fn entry<'a>(&self, library: &'a Library) -> anyhow::Result<&'a Entry> {
        let kind = if self.starter { Kind::Starter } else { Kind::Chain };
        let name = self.name.strip_prefix(LIBRARY).unwrap_or(&self.name);
        library.find(kind, name).map_err(worded)
    }
}

impl Keep {
    fn run(&self, documents: &Documents) -> anyhow::Result<()> {
        let original = documents.original(&self.file)?;
        let (preset, original) = match (original.document().clone(), &self.scope) {
            (Document::Chain(preset), None) => (preset, Some(original)),
            (Document::Chain(_), Some(_)) => {
                return Err(
                    WrongWords(format!("--scope: {} is a chain, which has no scopes", self.file)).into()
                );
            }
            (Document::Show(show), None) => {
                let busiest = show.address(show.busiest_scope());
                return Err(WrongWords(format!(
                    "{} is a show; say whose chain is kept, such as --scope {busiest}",
                    self.file
                ))
                .into());
            }
            (Document::Show(show), Some(scope)) => {
                let found =
                    show.scope_named(scope).map_err(|error| scope_refused("--scope", &error, &show))?;
                let name = format!("{} {}", show.name, scope.rsplit([':', '/']).next().unwrap_or(scope));
                let chain = show.chain(found).clone();
                let controls = show.controls_of(found);
                let preset = Preset { name, about: String::new(), tags: Vec::new(), chain, controls };
                (preset, original.of_scope(found))
            }
        };
        let preset = Preset {
            name: self.name.clone().unwrap_or(preset.name),
            tags: if self.tags.is_empty() { preset.tags } else { self.tags.clone() },
            ..preset
        };
        if preset.chain.is_empty() {
            return Err(worded(LibraryError::Empty(preset.name)));
        }
        let file = documents.library().keep_text(Kind::Chain, &preset.name, |name| {
            let document = Document::Chain(Preset { name: name.to_owned(), ..preset.clone() });
            text_from(original.as_ref(), &document, Path::new(""))
        });
        let file = file.map_err(worded)?;
        say(&format!("kept: {} ({LIBRARY}{})\n", file.display(), handle_of(&file)))
    }
}

impl PutOn {
    fn run(&self, documents: &Documents) -> anyhow::Result<()> {
        let output = Output::document("--out", &self.out, self.replace).editing(Path::new(&self.show));
        check_places(slice::from_ref(&output))?;
        let (preset, taken) = self.chain(documents)?;
        let (show, original) = documents.show(&self.show, "chains are put onto scopes of shows")?;
        let scope = show.scope_named(&self.on).map_err(|error| scope_refused("--on", &error, &show))?;
        let put = Put {
            scope,
            taken: Some((taken, content_of_chain(&preset.chain))),
            chain: preset.chain,
            name: preset.name,
            way: self.way,
            controls: (!self.without_controls).then_some(preset.controls),
        };
        let (_, notes) = put.done(&show)?;
        let (changed, step) = Edit::Put(Box::new(put)).applied(&show)?;
        write_show(&output, &changed, &original)?;
        notes.iter().for_each(|line| note(&format!("note: {line}")));
        let names = changed.chain(scope).iter().map(|used| used.called());
        say(&format!("{step}: {}\nwrote {}\n", one_after_another(names), self.out.display()))
    }

    /// The chain, and what a show notes that it was taken from.
    fn chain(&self, documents: &Documents) -> anyhow::Result<(Preset, String)> {
        let is_file = Path::new(&self.chain).extension().is_some();
        let is_named = self.chain.split_once(':').is_some();
        let (document, taken) = if is_file || is_named {
            (documents.read(&self.chain)?, self.chain.clone())
        } else {
            let library = documents.library();
            let entry = library.find(Kind::Chain, &self.chain).map_err(worded)?;
            (library.document(entry, &documents.catalogue)?, format!("{LIBRARY}{}", entry.handle))
        };
        match document {
            Document::Chain(preset) => Ok((preset, taken)),
            Document::Show(_) => Err(WrongWords(format!(
                "{} is a show; `underover starters bring` takes chains out of shows",
                self.chain
            ))
            .into()),
        }
    }
}

/// Tells which sections lay a chain by a name that it has no more, and how each comes to lay it again: of these shows, and
/// of those opened lately.
fn tell_sections(documents: &Documents, entry: &Entry, now: &str, paths: &[PathBuf]) {
    if entry.kind != Kind::Chain {
        return;
    }
    let mut files = looked_at(&[]);
    for file in paths.iter().flat_map(|path| shows_under(path)) {
        if !files.iter().any(|known| same_file(known, &file)) {
            files.push(file);
        }
    }
    each_show(documents, &files, |file, show| {
        let file = file.display().to_string();
        for (section, scope) in sections_naming(show, entry) {
            let (section, scope) = (&show.sections[section].name, show.address(scope));
            let chain = format!("{scope}={now}");
            let words = ["edit", "section", "set", &file, section, "--chain", &chain, "--out", &file];
            note(&format!(
                "note: the section {section} of {file} lays {LIBRARY}{} on {scope}; this has it lay another: underover {}",
                entry.handle,
                quoted(words),
            ));
        }
    });
}

impl UsedIn {
    fn run(&self, documents: &Documents) -> anyhow::Result<()> {
        let library = documents.library();
        self.among.check()?;
        let name = self.name.strip_prefix(LIBRARY).unwrap_or(&self.name);
        let entry = library.find(Kind::Chain, name).map_err(worded)?;
        let of = |file: &Path, show: &Show| Usage::of(file, show, entry, library.entries());
        self.among.tell(documents, &format!("a copy of {}", entry.handle), of)
    }
}

/// A search, from words that the shell may have parted.
pub(super) fn wish(words: &[String]) -> anyhow::Result<Wish> {
    let quoted = words.iter().map(|word| {
        if word.contains(' ') && !word.contains('"') { format!("\"{word}\"") } else { word.clone() }
    });
    let text: Vec<String> = quoted.collect();
    Wish::parsed(&text.join(" ")).map_err(|error| WrongWords(error.to_string()).into())
}

#[derive(Debug, Serialize)]
struct EntryFigures<'a> {
    handle: &'a str,
    name: &'a str,
    kind: &'static str,
    /// Its file; nothing where it is part of the program.
    file: Option<&'a Path>,
    about: &'a str,
    tags: &'a [String],
    effects: &'a [String],
    colours: &'a [String],
    content: Option<&'a str>,
    error: Option<&'a str>,
}

fn figures_of(entry: &Entry) -> EntryFigures<'_> {
    let facts = entry.facts.as_ref().ok();
    EntryFigures {
        handle: &entry.handle,
        name: entry.name(),
        kind: entry.kind.name(),
        file: entry.file(),
        about: facts.map_or("", |facts| &facts.about),
        tags: facts.map_or(&[], |facts| &facts.tags),
        effects: facts.map_or(&[], |facts| &facts.effects),
        colours: facts.map_or(&[], |facts| &facts.colours),
        content: facts.map(|facts| facts.content.as_str()),
        error: entry.facts.as_ref().err().map(String::as_str),
    }
}

/// Says and writes the entries of a kind that a search finds.
pub(super) fn listed_entries(
    library: &Library,
    kind: Kind,
    wish: &Wish,
    json: Option<Output<'_>>,
) -> anyhow::Result<()> {
    check_outputs(json.as_slice())?;
    let found: Vec<&Entry> = library.found(wish).filter(|entry| entry.kind == kind).collect();
    if let Some(json) = json {
        let figures: Vec<EntryFigures> = found.iter().map(|entry| figures_of(entry)).collect();
        json.write_json(&figures)?;
        if json.is_standard_output() {
            return Ok(());
        }
        note(&format!("wrote {}", json.path().display()));
    }
    let (own, shipped): (Vec<&Entry>, Vec<&Entry>) = found.iter().partition(|entry| entry.file().is_some());
    let mut text = String::new();
    if own.is_empty() && wish.is_empty() {
        text += &format!("Your library has no {} yet.\n", kind.name());
    }
    own.iter().for_each(|entry| text += &line_of(entry));
    if !shipped.is_empty() {
        text += "Inside the program:\n";
        shipped.iter().for_each(|entry| text += &line_of(entry));
    }
    if found.is_empty() && !wish.is_empty() {
        text += &format!("no {} is like that\n", kind.name());
    }
    if kind == Kind::Starter && !found.is_empty() {
        text += "Why one is built as it is: underover starters about NAME\n";
    }
    say(&text)
}

fn line_of(entry: &Entry) -> String {
    let facts = match &entry.facts {
        Ok(facts) => facts,
        Err(error) => return format!("  {}  broken: {error}\n", entry.handle),
    };
    let colours: Vec<String> = facts
        .colours
        .iter()
        .map(|written| match written.parse() {
            Ok(colour) => format!("{written} ({})", colour_word(colour)),
            Err(()) => written.clone(),
        })
        .collect();
    let mut parts = vec![format!("  {}  {}", entry.handle, facts.name), facts.effects.join(", ")];
    if !facts.tags.is_empty() {
        parts.push(format!("tags {}", facts.tags.join(", ")));
    }
    if !colours.is_empty() {
        parts.push(colours.join(" "));
    }
    let mut line = parts.join("; ") + "\n";
    if entry.kind == Kind::Starter && !facts.about.is_empty() {
        line += &format!("      {}\n", facts.first_of_about());
    }
    line
}

#[derive(Debug, Serialize)]
struct RemovedFigures<'a> {
    number: u64,
    handle: &'a str,
    kind: &'static str,
    file: &'a Path,
}

fn removed(library: &Library, json: Option<Output<'_>>) -> anyhow::Result<()> {
    check_outputs(json.as_slice())?;
    let removed = library.removed();
    if let Some(json) = json {
        let figures: Vec<RemovedFigures> = removed
            .iter()
            .map(|one| RemovedFigures {
                number: one.number,
                handle: &one.handle,
                kind: one.kind.name(),
                file: &one.file,
            })
            .collect();
        json.write_json(&figures)?;
        if json.is_standard_output() {
            return Ok(());
        }
    }
    if removed.is_empty() {
        return say("nothing has been removed\n");
    }
    let lines = removed.iter().map(|one| format!("{:>4}  {}  {}\n", one.number, one.kind.name(), one.handle));
    say(&lines.collect::<String>())
}
