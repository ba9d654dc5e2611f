//! Parts of a stream: tried on machines of their own, written as files, and joined.

use std::path::Path;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::super::WrongWords;
use super::super::note;
use super::super::subject::Subject;
use super::share::{MOST_TRIES, PartOf, Streamed};
use super::vary::Varying;
use crate::base::content::Content;
use crate::base::place::{listed, shortened};
use crate::base::plain;
use crate::explore::find::{Kept, Quest, Standing};
use crate::files;
use crate::show::chain::Preset;

/// The form of a part, in its first line.
const FORMAT: &str = "underover/find-part/1";
/// The most bytes of a part: far more than it has.
const MOST_BYTES: u64 = 4 << 20;

/// What parts have to have in common to be joined.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Asked {
    /// The version of the program.
    program: String,
    seed: u64,
    goal: String,
    varied: Vec<String>,
    tried_at: String,
    /// These stand for the chain; for what lies under and beside it; for the picture to come near.
    chain: String,
    footage: String,
    like: String,
}

impl Asked {
    pub(super) fn of(subject: &Subject, varying: &Varying, quest: &Quest) -> Self {
        let chain = subject.path.chain.clone();
        let effects: String = chain.iter().map(|used| format!("{}\n", used.effect.content)).collect();
        let preset = Preset {
            name: String::new(),
            about: String::new(),
            tags: Vec::new(),
            chain,
            controls: Vec::new(),
        };
        let [footage, like] = quest.tried_over();
        Self {
            program: env!("CARGO_PKG_VERSION").to_owned(),
            seed: quest.seed,
            goal: quest.goal.name().to_owned(),
            varied: varying.words.clone(),
            tried_at: quest.tried_at().to_string(),
            chain: Content::of(files::chain_text(&preset) + &effects).to_string(),
            footage: footage.to_string(),
            like: like.to_string(),
        }
    }

    /// What the other was tried with, where that is something else.
    fn other(&self, other: &Self) -> Option<String> {
        let Self { program, seed, goal, varied, tried_at, chain, footage, like } = other;
        let told = [
            (self.program != *program, format!("version {program} of the program")),
            (self.seed != *seed, format!("another --seed ({seed})")),
            (self.goal != *goal, format!("another goal ({goal})")),
            (self.chain != *chain, "another chain, or the same at other settings".to_owned()),
            (self.varied != *varied, format!("another --vary ({})", varied.join(", "))),
            (self.tried_at != *tried_at, format!("another --tried-at or --frame ({tried_at})")),
            (self.like != *like, "another picture to come near".to_owned()),
            (self.footage != *footage, "other footage, or another scope, moment or frame".to_owned()),
        ];
        told.into_iter().find_map(|(is_other, what)| is_other.then_some(what))
    }
}

/// What `--part` writes.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct Part {
    format: String,
    #[serde(flatten)]
    asked: Asked,
    part: u64,
    parts: u64,
    /// Candidates of the whole stream; nothing where a time was given.
    tries: Option<u64>,
    /// Those that were tried of this share.
    tried: u64,
    /// The best of each kind: its number in the stream, and its score, of which less is better.
    best: Vec<(u64, f64)>,
}

impl Part {
    pub(super) fn of(asked: Asked, of: PartOf, tries: Option<u64>, streamed: &Streamed) -> Self {
        let best = streamed.kept.ranked().iter().map(|standing| (standing.number, standing.score)).collect();
        let PartOf { part, parts } = of;
        Self { format: FORMAT.to_owned(), asked, part, parts, tries, tried: streamed.tries, best }
    }
}

/// Reads parts and joins them; gives the shares that are missing, too. `tries` is how long their stream is to be, where
/// that is said.
pub(super) fn gathered(
    paths: &[String],
    asked: &Asked,
    tries: Option<Option<u64>>,
    quest: &Quest,
) -> anyhow::Result<(Streamed, Vec<u64>)> {
    let mut read: Vec<(&String, Part)> = Vec::with_capacity(paths.len());
    for path in paths {
        let part = part_from(path)?;
        let wrong = |what: String| WrongWords(format!("--gather {path}: {what}"));
        if let Some(what) = asked.other(&part.asked) {
            return Err(wrong(format!(
                "it was tried with {what}; give the words that it was made with, --gather in place of --part"
            ))
            .into());
        }
        if let Some(tries) = tries.filter(|tries| *tries != part.tries) {
            let (of, not) = (tries_said(part.tries), tries_said(tries));
            return Err(wrong(format!(
                "it is a share of {of}, not of {not}; leave that out, the parts say it"
            ))
            .into());
        }
        if let Some((first, known)) = read.first()
            && (known.parts, known.tries) != (part.parts, part.tries)
        {
            return Err(wrong(format!(
                "it is one of {} shares of {}, and {first} is one of {} of {}; these are two searches",
                part.parts,
                tries_said(part.tries),
                known.parts,
                tries_said(known.tries)
            ))
            .into());
        }
        if let Some((other, _)) = read.iter().find(|(_, known)| known.part == part.part) {
            return Err(wrong(format!("share {} is in {other} already; name each once", part.part)).into());
        }
        read.push((path, part));
    }
    let (parts, wanted) = read.first().map_or((1, None), |(_, first)| (first.parts, first.tries));
    let missing: Vec<u64> =
        (1..=parts).filter(|share| read.iter().all(|(_, part)| part.part != *share)).collect();
    if !missing.is_empty() {
        let shares: Vec<String> = missing.iter().take(8).map(u64::to_string).collect();
        let more = if missing.len() > 8 { format!(" and {} more", missing.len() - 8) } else { String::new() };
        note(&format!(
            "note: of {parts} shares {}{more} {} missing, and with them a part of the stream",
            listed(shares.iter().map(String::as_str)),
            if missing.len() == 1 { "is" } else { "are" }
        ));
    }
    let mut kept = Kept::default();
    let mut tries = 0;
    for (_, part) in read {
        tries += part.tried;
        let mut own = Kept::default();
        part.best.iter().for_each(|&(number, score)| quest.keep(&mut own, Standing { score, number }));
        kept.join(own);
    }
    Ok((Streamed { kept, tries, wanted }, missing))
}

fn tries_said(tries: Option<u64>) -> String {
    tries.map_or_else(|| "a stream that ends with its time".to_owned(), |tries| format!("{tries} tries"))
}

fn part_from(path: &str) -> anyhow::Result<Part> {
    let text =
        plain::read_text(Path::new(path), MOST_BYTES).map_err(|error| anyhow::anyhow!("{path}: {error}"))?;
    // What is no part at all is told before what is wrong with one.
    let form = serde_json::from_str::<serde_json::Value>(&text)
        .map_err(|error| anyhow::anyhow!("{path}:{}:{}: this is no JSON", error.line(), error.column()))?;
    match form.get("format").and_then(|format| format.as_str()) {
        Some(FORMAT) => {}
        Some(other) => anyhow::bail!(
            "{path}: its format is `{}`; a part of a search has `{FORMAT}`, as `find --part K/N --json FILE` writes it",
            shortened(other)
        ),
        None => anyhow::bail!(
            "{path}: this is no part of a search, which has `\"format\": \"{FORMAT}\"`; `find --part K/N --json FILE` writes one"
        ),
    }
    let part: Part = serde_json::from_str(&text).map_err(|error| {
        anyhow::anyhow!("{path}:{}:{}: {error}; write the part anew", error.line(), error.column())
    })?;
    let whole = PartOf::from_str(&format!("{}/{}", part.part, part.parts));
    whole.map_err(|wanted| anyhow::anyhow!("{path}: share {}/{}; {wanted}", part.part, part.parts))?;
    let is_right = |&(number, score): &(u64, f64)| {
        score.is_finite() && number % part.parts == part.part - 1 && number < MOST_TRIES
    };
    if !part.best.iter().all(is_right) {
        anyhow::bail!(
            "{path}: its `best` holds what is not of share {}/{}; write the part anew",
            part.part,
            part.parts
        );
    }
    Ok(part)
}
