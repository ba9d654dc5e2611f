//! What was found: as text, as figures, as a wall, and kept.

use std::path::Path;

use serde::Serialize;
use serde_json::{Map, Value as Json, json};

use super::super::figures::{DifferenceFigures, SubjectFigures, rounded};
use super::super::kept_order::keep_as;
use super::super::opened::Opened;
use super::super::output::{Output, image_of};
use super::super::subject::Subject;
use super::vary::Varying;
use crate::base::coding::ColourCode;
use crate::base::picture::Picture;
use crate::catalogue::{Kind, Value};
use crate::explore::Goal;
use crate::explore::find::{Found, Quest, Varied};
use crate::order::marks;
use crate::output::wall::{Captioned, Spread, Striped, tile_size};
use crate::show::chain::one_after_another;

/// All that is told of a search.
pub(super) struct Answers<'a> {
    pub(super) subject: &'a Subject,
    pub(super) quest: &'a Quest,
    pub(super) varying: &'a Varying,
    pub(super) like: Option<(&'a Path, &'a Picture)>,
    pub(super) found: &'a [Found],
    /// Candidates of the stream that were tried, and in all.
    pub(super) of_stream: u64,
    pub(super) tries: u64,
    /// Shares of the stream that were not there.
    pub(super) parts_missing: &'a [u64],
    /// Whether every candidate that there is was tried.
    pub(super) is_all: bool,
}

#[derive(Serialize)]
pub(super) struct Figures<'a> {
    #[serde(flatten)]
    of: SubjectFigures<'a>,
    want: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    like: Option<String>,
    seed: u64,
    varied: &'a [String],
    /// The size at which the stream was tried; answers are measured at `frame`.
    tried_at: String,
    tries: u64,
    tries_of_stream: u64,
    /// Whether that is every candidate there is.
    all_tried: bool,
    #[serde(skip_serializing_if = "<[u64]>::is_empty")]
    parts_missing: &'a [u64],
    /// The best first, each of a look of its own.
    found: Vec<FoundFigures>,
}

#[derive(Serialize)]
struct FoundFigures {
    /// The code of its order.
    order: String,
    effects: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    scope: Option<String>,
    /// All that was tried, as it is here: "tint.amount", "tint.on".
    settings: Map<String, Json>,
    #[serde(flatten)]
    difference: Option<DifferenceFigures>,
    /// The goal's figure, where it is no difference.
    #[serde(skip_serializing_if = "Option::is_none")]
    wanted: Option<f64>,
}

impl<'a> Answers<'a> {
    /// What is looked for, in words: "like wish.png", "brightest".
    fn wish(&self) -> String {
        match self.like {
            Some((path, _)) => format!("like {}", path.display()),
            None => self.quest.goal.name().to_owned(),
        }
    }

    /// The same as what stands over the wall: "what comes nearest to wish.png".
    fn heading(&self) -> String {
        let like = || self.like.map_or_else(String::new, |(path, _)| path.display().to_string());
        match self.quest.goal {
            Goal::MostChanged => "what changes the footage most".to_owned(),
            Goal::LeastChanged => "what changes the footage least".to_owned(),
            Goal::Brightest => "what is brightest".to_owned(),
            Goal::Darkest => "what is darkest".to_owned(),
            Goal::MostEdges => "what has most edges".to_owned(),
            Goal::MostColour => "what has most colour".to_owned(),
            Goal::Like => format!("what comes nearest to {}", like()),
        }
    }

    fn code(&self, found: &Found) -> String {
        marks(&found.chain).code(&found.order)
    }

    fn order_said(&self, found: &Found) -> String {
        let on = found.order.iter().filter(|&&place| found.chain[place].on);
        one_after_another(on.map(|&place| self.varying.labels[place].as_str()))
    }

    fn scope(&self, found: &Found) -> Option<&str> {
        self.varying.scopes.get(found.scope).map(|(_, address)| address.as_str())
    }

    /// The colour that a person gave that scope.
    fn colour(&self, found: &Found) -> Option<ColourCode> {
        let (scope, _) = self.varying.scopes.get(found.scope)?;
        match &self.subject.opened {
            Opened::Show { show, .. } => show.colour(*scope),
            Opened::Chain { .. } => None,
        }
    }

    /// What was tried, as it is in an answer.
    fn settings(&self, found: &Found) -> Vec<(String, Value, &'a Kind)> {
        let space = &self.quest.space;
        let of = |Varied { place, setting, .. }: &Varied| {
            let declared = &space.chain()[*place].effect.settings[*setting];
            let value = found.chain[*place].values().nth(*setting).cloned().unwrap_or(Value::Choice(0));
            (format!("{}.{}", self.varying.labels[*place], declared.name), value, &declared.kind)
        };
        space.settings.iter().map(of).collect()
    }

    fn settings_said(&self, found: &Found) -> String {
        let off = self.quest.space.switches.iter().filter(|&&place| !found.chain[place].on);
        let off = off.map(|&place| format!("{} off", self.varying.labels[place]));
        let settings = self
            .settings(found)
            .into_iter()
            .map(|(name, value, kind)| format!("{name} {}", kind.written(&value).trim_matches('"')));
        settings.chain(off).collect::<Vec<_>>().join(", ")
    }

    fn figure_said(&self, found: &Found) -> String {
        match &found.difference {
            Some(difference) if self.like.is_some() => difference.in_short(),
            _ => format!("{} {:.4}", self.quest.goal.figure(), found.figure),
        }
    }

    fn tries_said(&self) -> String {
        let all = if self.is_all { ", all that there are" } else { "" };
        format!(
            "{} tries at {}{all}, and {} finer ones around the best; measured at {}",
            self.of_stream,
            self.quest.tried_at(),
            self.tries - self.of_stream,
            self.subject.path.moment.frame
        )
    }

    pub(super) fn text(&self) -> String {
        let mut text = format!("Looking for {}, trying {}\n", self.wish(), self.varying.words.join(", "));
        for (at, found) in self.found.iter().enumerate() {
            let scope = if self.varying.scopes.len() > 1 { self.scope(found) } else { None };
            let scope = scope.map_or_else(String::new, |scope| format!(" on {scope}"));
            text += &format!(
                "{:>3}  {}{scope}  {}  ({})\n",
                at + 1,
                self.code(found),
                self.order_said(found),
                self.figure_said(found)
            );
            let settings = self.settings_said(found);
            if !settings.is_empty() {
                text += &format!("     {settings}\n");
            }
        }
        text + &self.tries_said() + "\n"
    }

    pub(super) fn figures(&self) -> Figures<'a> {
        let found = |found: &Found| {
            let mut settings = Map::new();
            for (name, value, kind) in self.settings(found) {
                settings.insert(name, json_of(&value, kind));
            }
            for &place in &self.quest.space.switches {
                settings.insert(format!("{}.on", self.varying.labels[place]), found.chain[place].on.into());
            }
            let effect = |&place: &usize| self.varying.labels[place].clone();
            FoundFigures {
                order: self.code(found),
                effects: found.order.iter().filter(|&&place| found.chain[place].on).map(effect).collect(),
                scope: self.scope(found).map(str::to_owned),
                settings,
                difference: found.difference.as_ref().map(Into::into),
                wanted: found.difference.is_none().then(|| rounded(found.figure)),
            }
        };
        Figures {
            of: self.subject.into(),
            want: self.quest.goal.name(),
            like: self.like.map(|(path, _)| path.display().to_string()),
            seed: self.quest.seed,
            varied: &self.varying.words,
            tried_at: self.quest.tried_at().to_string(),
            tries: self.tries,
            tries_of_stream: self.of_stream,
            all_tried: self.is_all,
            parts_missing: self.parts_missing,
            found: self.found.iter().map(found).collect(),
        }
    }

    /// The answers beside each other, the picture to come near first.
    pub(super) fn wall(&self) -> anyhow::Result<Spread> {
        let moment = &self.subject.path.moment;
        let grid = tile_size(moment.frame, self.found.len() + usize::from(self.like.is_some()));
        let captioned =
            |picture: &Picture, heading: String, lines: Vec<Striped>| -> anyhow::Result<Captioned> {
                let heading = heading.into();
                Ok(Captioned { picture: grid.tile(&image_of(picture)?)?, heading, lines, scale: None })
            };
        let mut pictures = Vec::with_capacity(self.found.len() + 1);
        if let Some((path, picture)) = self.like {
            let heading = "the picture to come near".to_owned();
            pictures.push(captioned(picture, heading, vec![path.display().to_string().into()])?);
        }
        for (at, found) in self.found.iter().enumerate() {
            let scope = if self.varying.scopes.len() > 1 { self.scope(found) } else { None };
            let mut first = Striped::from("");
            if let Some(scope) = scope {
                first = first.then("on ");
                first.0.push((self.colour(found), scope.to_owned()));
                first = first.then(": ");
            }
            let first = first.then(self.order_said(found));
            let lines = vec![first, self.settings_said(found).into(), self.figure_said(found).into()];
            pictures.push(captioned(&found.picture, format!("{}  {}", at + 1, self.code(found)), lines)?);
        }
        let at = format!(", beat {}, {}, {}", moment.beats, moment.frame, moment.pixels.name());
        let nearer = if self.quest.goal.is_least() { "less" } else { "more" };
        let facts = [
            format!("the best first, by the {}: the {nearer}, the nearer", self.quest.goal.figure()).into(),
            format!("tried were {}", self.varying.words.join(", ")).into(),
            self.subject.source().then(at),
            self.tries_said().into(),
        ];
        Ok(Spread {
            title: format!("{}: {}", self.subject.name, self.heading()),
            facts: facts.into_iter().chain(self.subject.frame_note.clone().map(Striped::from)).collect(),
            caution: self.subject.caution.map(str::to_owned),
            pictures,
            columns: Some(grid.columns),
        })
    }

    /// Writes an answer, counted from 1, as a chain file.
    pub(super) fn keep(&self, nth: usize, output: &Output) -> anyhow::Result<()> {
        let Some(found) = self.found.get(nth - 1) else {
            anyhow::bail!(
                "--keep {nth}: {} that look unlike each other were found, and nothing is saved; name one of them, or tell more apart with a smaller --look-mean and --look-p95",
                self.found.len()
            );
        };
        keep_as(self.subject, &found.chain, &found.order, output)
    }
}

fn json_of(value: &Value, kind: &Kind) -> Json {
    match value {
        Value::Number(number) => json!(number),
        Value::Whole(number) => json!(number),
        value => kind.written(value).trim_matches('"').into(),
    }
}
