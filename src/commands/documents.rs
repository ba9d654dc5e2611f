//! Documents that a command line names: read once, with the catalogue and the library that they are read by; what is
//! wrong with what was named; and documents written back.

use std::cell::OnceCell;
use std::convert::Infallible;
use std::path::Path;
use std::slice;

use super::output::{Output, check_outputs};
use super::{WrongWords, note};
use crate::base::absent::Absent;
use crate::base::doing::doing_untold;
use crate::base::embedded;
use crate::base::inputs::note_read;
use crate::base::place::{did_you_mean, listed};
use crate::catalogue::{Catalogue, Effect};
use crate::files;
use crate::files::{Document, FileError, Original};
use crate::library::{Kind, LIBRARY, Library, LibraryError};
use crate::show::chain::Chain;
use crate::show::{ScopeError, Show};
use crate::trial::Trials;

/// What a preset's name opens with.
pub(super) const PRESET: &str = "preset:";

/// What a command line names to be read: if it is a file, it is noted before an output is looked at.
#[expect(clippy::unnecessary_wraps, reason = "clap asks for a result")]
pub(super) fn read_here(text: &str) -> Result<String, Infallible> {
    note_read(Path::new(text));
    Ok(text.to_owned())
}

/// The show as it stands in one of its sections.
pub(super) struct Stand {
    /// The section, by its place.
    pub(super) section: usize,
    pub(super) name: String,
    pub(super) show: Show,
}

/// What documents are read by: the catalogue, and the library once something of it is asked for.
pub(super) struct Documents {
    pub(super) catalogue: Catalogue,
    library: OnceCell<Library>,
}

impl Documents {
    /// By the built-in effects, and those of a person's own: of their effects folder, and of a folder named. What is
    /// wrong with any is told; each is tried before it is used for the first time.
    pub(super) fn tried(own: Option<&Path>, adapter: Option<&str>) -> anyhow::Result<Self> {
        let mut documents = Self::untried(own)?;
        let catalogue = &mut documents.catalogue;
        let tell_trial = |effect: &Effect| note(&format!("trying the effect {} …", effect.name));
        let told = Trials::here(adapter.map(str::to_owned)).settle(catalogue, tell_trial);
        for line in catalogue.problems().iter().map(|problem| &problem.reason).chain(&told) {
            note(&format!("note: {line}"));
        }
        Ok(documents)
    }

    /// The same, where nothing is rendered: what is wrong with a file is not told yet.
    pub(super) fn untried(own: Option<&Path>) -> anyhow::Result<Self> {
        let _reading = doing_untold("reading effects");
        let mut catalogue = Catalogue::built_in()?;
        catalogue.add_own(own)?;
        Ok(Self { catalogue, library: OnceCell::new() })
    }

    /// The library of this person, looked through.
    pub(super) fn library(&self) -> &Library {
        self.library.get_or_init(|| {
            let mut library = Library::of_person();
            library.scan(&self.catalogue);
            library
        })
    }

    /// Reads a file, a preset that travels inside the program, or a chain of the library.
    pub(super) fn read(&self, file: &str) -> anyhow::Result<Document> {
        Ok(self.original(file)?.document().clone())
    }

    /// As [`Self::read`], with the text, for what is written back.
    pub(super) fn original(&self, file: &str) -> anyhow::Result<Original> {
        let catalogue = &self.catalogue;
        if let Some(name) = file.strip_prefix(LIBRARY) {
            let entry = self.library().find(Kind::Chain, name).map_err(worded)?;
            return Ok(self.library().original(entry, catalogue)?);
        }
        let known = || embedded::CHAINS.iter().chain(embedded::SHOWS).copied();
        let Some(name) = file.strip_prefix(PRESET) else {
            return files::read_original_named(Path::new(file), catalogue).map_err(|error| match error {
                FileError::Absent(Absent { obstacle: None, .. }) if known().any(|(name, _)| name == file) => {
                    WrongWords(format!("there is no file `{file}`; did you mean `{PRESET}{file}`?")).into()
                }
                error => error.into(),
            });
        };
        let names = || known().map(|(name, _)| name);
        let Some((_, text)) = known().find(|(known, _)| *known == name) else {
            return Err(WrongWords(format!(
                "there is no preset named `{name}`{} (known: {})",
                did_you_mean(name, names()),
                listed(names())
            ))
            .into());
        };
        let document = files::parse(text, file, Path::new(""), catalogue)?;
        Ok(Original::new(text, document, Path::new(""), catalogue))
    }

    /// Reads a show; a chain is refused with `why` a show is needed.
    pub(super) fn show(&self, file: &str, why: &str) -> anyhow::Result<(Show, Original)> {
        let original = self.original(file)?;
        match original.document().clone() {
            Document::Show(show) => Ok((show, original)),
            Document::Chain(_) => Err(WrongWords(format!("{file} is a chain, and {why}")).into()),
        }
    }
}

impl Documents {
    /// The chain of this name, as sections and command lines name it.
    pub(super) fn chain(&self, name: &str) -> anyhow::Result<Chain> {
        let name = if name.contains(':') { name.to_owned() } else { format!("{LIBRARY}{name}") };
        match self.read(&name)? {
            Document::Chain(preset) => Ok(preset.chain),
            Document::Show(_) => {
                Err(WrongWords(format!("{name} is a show, and a chain is wanted here")).into())
            }
        }
    }

    /// The show as it stands in each of its sections that changes anything, in the order in which they first come.
    pub(super) fn stands(&self, show: &Show) -> anyhow::Result<Vec<Stand>> {
        let mut stands = self.all_stands(show)?;
        stands.retain(|stand| !show.sections[stand.section].changes_nothing());
        Ok(stands)
    }

    /// The same with those that change nothing.
    pub(super) fn all_stands(&self, show: &Show) -> anyhow::Result<Vec<Stand>> {
        let mut sections: Vec<usize> = Vec::new();
        for section in show.running_order.iter().copied().chain(0..show.sections.len()) {
            if !sections.contains(&section) {
                sections.push(section);
            }
        }
        let stand = |section: usize| {
            let name = show.sections[section].name.clone();
            Ok(Stand { section, name, show: self.in_section(show, section)? })
        };
        sections.into_iter().map(stand).collect()
    }

    /// The show as it stands in one of its sections, which its name then says.
    pub(super) fn in_section(&self, show: &Show, at: usize) -> anyhow::Result<Show> {
        let name = &show.sections[at].name;
        let stands = show.in_section(at, |chain| {
            self.chain(chain).map_err(|error| anyhow::anyhow!("section {name}: {error}"))
        })?;
        Ok(Show { name: format!("{}: {name}", show.name), ..stands })
    }
}

/// A scope that the show does not have, with those that it has.
pub(super) fn scope_refused(option: &str, error: &ScopeError, show: &Show) -> WrongWords {
    let ScopeError::Form(written) = error else {
        return WrongWords(format!("{option}: {error}"));
    };
    let addresses: Vec<String> = show.scopes().into_iter().map(|scope| show.address(scope)).collect();
    // A name alone is a near miss of the address that ends in it.
    let named = addresses.iter().find(|address| address.rsplit([':', '/']).next() == Some(written.as_str()));
    let hint = match named {
        Some(address) => format!("; did you mean `{address}`?"),
        None => did_you_mean(written, addresses.iter().map(String::as_str)),
    };
    let known = listed(addresses.iter().map(String::as_str));
    WrongWords(format!("{option}: `{written}` is no scope of this show{hint} (it has {known})"))
}

/// A name that is not there is a wrong word; all else is work that failed.
pub(super) fn worded(error: LibraryError) -> anyhow::Error {
    match error {
        LibraryError::Unknown { .. }
        | LibraryError::Ambiguous { .. }
        | LibraryError::Name(_)
        | LibraryError::NoName(_)
        | LibraryError::Shipped(_)
        | LibraryError::Empty(_)
        | LibraryError::NotRemoved { .. } => WrongWords(error.to_string()).into(),
        error => error.into(),
    }
}

/// The text of a file in `folder` that holds `document`, with the comments of the one that it was made of.
pub(super) fn text_from(original: Option<&Original>, document: &Document, folder: &Path) -> String {
    original.and_then(|original| original.with(document, folder).ok()).unwrap_or_else(|| match document {
        Document::Chain(preset) => files::chain_text(preset),
        Document::Show(show) => files::show_text(show, folder),
    })
}

/// Writes a show that was made of `original` to a new file, or to the one that it was read from.
pub(super) fn write_show(output: &Output, show: &Show, original: &Original) -> anyhow::Result<()> {
    // What has been read by now counts too.
    check_outputs(slice::from_ref(output))?;
    let folder = output.path().parent().unwrap_or(Path::new(""));
    let document = Document::Show(show.clone());
    let text = if original.is_of(output.path()) {
        if original.is_changed_in(output.path()) {
            return Err(anyhow::anyhow!(
                "{} has been changed by another program meanwhile and is left as it is; give the command again",
                output.path().display()
            ));
        }
        // A file that is replaced loses nothing of what a person wrote in it.
        let kept = original.with(&document, folder);
        kept.map_err(|error| anyhow::anyhow!("{}: {error}", output.path().display()))?
    } else {
        text_from(Some(original), &document, folder)
    };
    output.write(text.as_bytes())
}
