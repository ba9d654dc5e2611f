//! `underover places`: one effect tried on every scope of a show, or the levels of a bundle in every order.

use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::figures::DifferenceFigures;
use super::output::{
    Output, Replace, check_outputs, check_places, image_of, is_standard_output, say, sheet_outputs,
};
use super::progress::Progress;
use super::subject::SubjectOptions;
use super::{WrongWords, note};
use crate::base::doing::doing;
use crate::base::picture::Picture;
use crate::base::place::{did_you_mean, listed};
use crate::beat::Moment;
use crate::catalogue::Catalogue;
use crate::edit::{Edit, StructureEdit, level_orders};
use crate::footage::Shelf;
use crate::gpu::Renderer;
use crate::measure::Difference;
use crate::output::wall::{Captioned, Spread, Striped, tile_size};
use crate::plan::Path as PicturePath;
use crate::show::chain::EffectUse;
use crate::show::{Bundle, Scope, Show};

/// The options of `places`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  underover places preset:night-ferry --effect mirror --from bundle:picture --out places.png
  underover places preset:night-ferry --effect invert
  underover places preset:night-ferry --levels picture")]
pub(super) struct Places {
    #[command(flatten)]
    subject: SubjectOptions,
    /// The effect to try: one that the show uses is taken from where it is, another comes at its defaults
    #[arg(long, value_name = "NAME", required_unless_present = "levels", conflicts_with = "levels")]
    effect: Option<String>,
    /// Which use of the effect is moved, where the show uses it more than once
    #[arg(long, value_name = "SCOPE", requires = "effect")]
    from: Option<String>,
    /// Instead: the levels of this bundle in other orders
    #[arg(long, value_name = "BUNDLE")]
    levels: Option<String>,
    /// The sheet to write: a PNG with one picture for each place
    #[arg(long, value_name = "P.png")]
    out: Option<PathBuf>,
    /// The figures to write (`-` is standard output)
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    #[command(flatten)]
    replace: Replace,
}

/// A show that could be, and what it is called.
struct Trial {
    name: Striped,
    show: Show,
    /// How the show stands now.
    is_now: bool,
    /// Which bundles it reaches.
    touches: Striped,
}

struct Tried {
    name: Striped,
    touches: Striped,
    is_now: bool,
    picture: Picture,
    difference: Difference,
}

/// What the pictures are compared with, in words.
const WITHOUT: &str = "the show without the effect";
const AS_IT_IS: &str = "the levels as they are";

#[derive(Serialize)]
struct Figures<'a> {
    name: &'a str,
    frame: String,
    pixels: &'static str,
    at_beats: f64,
    adapter: String,
    tried: &'a str,
    compared_with: &'static str,
    place: Vec<PlaceFigures>,
}

#[derive(Serialize)]
struct PlaceFigures {
    place: String,
    touches: String,
    is_now: bool,
    #[serde(flatten)]
    difference: DifferenceFigures,
}

impl Places {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let outputs = sheet_outputs(self.out.as_deref(), self.json.as_deref(), self.replace);
        check_places(&outputs)?;
        let (show, mut subject) =
            self.subject.open_show("places are tried in a show, which has clips, levels and bundles")?;
        check_outputs(&outputs)?;
        let (tried, compared_with, baseline, trials) = match (&self.effect, &self.levels) {
            (Some(effect), _) => {
                let (without, moved, home) = lifted(&show, effect, self.from.as_deref(), &subject.catalogue)?;
                let trials = place_trials(&without, &moved, home);
                (effect.clone(), WITHOUT, without, trials)
            }
            (None, levels) => {
                let bundle = levels.as_deref().unwrap_or_default();
                let trials = level_trials(&show, bundle)?;
                (format!("levels of {bundle}"), AS_IT_IS, show, trials)
            }
        };
        subject.keeps(trials.len() + 2)?;
        let moment = subject.path.moment;
        let shelf = &mut subject.shelf;
        let renderer = &mut subject.renderer;
        let rendering = doing("rendering what it is compared with");
        let against = output_of(&baseline, moment, shelf, renderer)?;
        drop(rendering);
        let mut places = Vec::with_capacity(trials.len());
        let mut progress = Progress::named("rendering each place", "pictures", trials.len());
        for trial in trials {
            progress.tell(places.len());
            let picture = output_of(&trial.show, moment, shelf, renderer)?;
            let difference = renderer.difference(&against, &picture)?;
            let Trial { name, touches, is_now, .. } = trial;
            places.push(Tried { name, touches, is_now, picture, difference });
        }
        progress.finished();
        if !self.json.as_deref().is_some_and(is_standard_output) {
            say(&text(&tried, compared_with, &subject.name, &places))?;
        }
        if let Some(out) = &self.out {
            let drawing = doing("drawing the sheet");
            let mut pictures = vec![(format!("0  {compared_with}").into(), vec![], &against)];
            for (at, place) in places.iter().enumerate() {
                let now = if place.is_now { "  (as it is now)" } else { "" };
                let mut heading = Striped::from(format!("{}  ", at + 1));
                heading.0.extend(place.name.0.iter().cloned());
                pictures.push((
                    heading.then(now),
                    vec![place.touches.clone(), place.difference.to_string().into()],
                    &place.picture,
                ));
            }
            let spread = spread(&tried, &subject.name, moment, pictures, subject.caution)?;
            let drawn = spread.drawn()?;
            drop(drawing);
            Output::made("--out", out, "png", self.replace).write_picture(&drawn)?;
            note(&format!("wrote {} ({} pictures)", out.display(), places.len() + 1));
        }
        if let Some(json) = &self.json {
            let place = places
                .iter()
                .map(|place| PlaceFigures {
                    place: place.name.words(),
                    touches: place.touches.words(),
                    is_now: place.is_now,
                    difference: (&place.difference).into(),
                })
                .collect();
            Output::figures(json, self.replace).write_json(&Figures {
                name: &subject.name,
                frame: moment.frame.to_string(),
                pixels: moment.pixels.name(),
                at_beats: moment.beats,
                adapter: renderer.gpu().adapter().to_string(),
                tried: &tried,
                compared_with,
                place,
            })?;
        }
        subject.closing_notes();
        Ok(())
    }
}

fn output_of(
    show: &Show,
    moment: Moment,
    shelf: &mut Shelf,
    renderer: &mut Renderer,
) -> anyhow::Result<Picture> {
    let path = PicturePath::of_scope(show, Scope::Global, moment, shelf)?;
    let own: Vec<usize> = (0..path.chain.len()).collect();
    Ok(renderer.picture(&path, &own)?)
}

/// The show without the effect, the effect with its settings, and where it was.
fn lifted(
    show: &Show,
    name: &str,
    from: Option<&str>,
    catalogue: &Catalogue,
) -> anyhow::Result<(Show, EffectUse, Option<Scope>)> {
    let mut without = show.clone();
    let homes: Vec<(Scope, usize)> = show
        .scopes()
        .into_iter()
        .filter(|&scope| show.shows(scope))
        .flat_map(|scope| show.chain(scope).iter().enumerate().map(move |(at, used)| (scope, at, used)))
        .filter(|(_, _, used)| used.effect.name == name)
        .map(|(scope, at, _)| (scope, at))
        .collect();
    let from = match from {
        Some(address) => {
            Some(show.scope_named(address).map_err(|error| WrongWords(format!("--from: {error}")))?)
        }
        None => None,
    };
    let chosen: Vec<(Scope, usize)> =
        homes.iter().copied().filter(|&(scope, _)| from.is_none_or(|from| from == scope)).collect();
    if let (Some(from), []) = (from, &chosen[..]) {
        return Err(WrongWords(format!("--from {}: {name} is not used there", show.address(from))).into());
    }
    if let [(scope, at)] = chosen[..] {
        let moved = without.chain_mut(scope).remove(at);
        return Ok((without, moved, Some(scope)));
    }
    let effect = catalogue
        .effect(name)
        .map(std::sync::Arc::clone)
        .map_err(|error| WrongWords(format!("--effect: {error}")))?;
    if homes.len() > 1 {
        let homes: Vec<String> = homes.iter().map(|&(scope, _)| show.address(scope)).collect();
        note(&format!(
            "note: the show uses {name} on {}; those stay, and one more at its defaults is tried; --from SCOPE moves one of them",
            listed(homes.iter().map(String::as_str))
        ));
    }
    Ok((without, EffectUse::new(effect), None))
}

/// The effect over the chain of each scope that shows.
fn place_trials(without: &Show, moved: &EffectUse, home: Option<Scope>) -> Vec<Trial> {
    let showing = without.scopes().into_iter().filter(|&scope| without.shows(scope));
    showing
        .map(|scope| {
            let mut show = without.clone();
            show.chain_mut(scope).push(moved.clone());
            Trial {
                name: Striped::of(show.colour(scope), show.address(scope)),
                is_now: home == Some(scope),
                touches: touches(&show, scope),
                show,
            }
        })
        .collect()
}

/// "touches picture; signs stays clean".
fn touches(show: &Show, scope: Scope) -> Striped {
    let reached = match scope {
        Scope::Global => return Striped::from("touches everything"),
        Scope::Bundle(b) | Scope::Level(b, _) | Scope::Clip(b, _, _) => b,
    };
    let name = |bundle: &Bundle, said: String| (bundle.colour, said);
    let touched = &show.bundles[reached];
    let mut said = Striped::from("touches ");
    said.0.push(name(touched, touched.name.clone()));
    let clean: Vec<&Bundle> =
        show.bundles.iter().enumerate().filter(|(b, _)| *b != reached).map(|(_, bundle)| bundle).collect();
    if clean.is_empty() {
        return said.then(", the only bundle");
    }
    for (nth, bundle) in clean.iter().enumerate() {
        said = said.then(match nth {
            0 => "; ",
            last if last + 1 == clean.len() => " and ",
            _ => ", ",
        });
        let quote = if clean.len() == 1 { "" } else { "`" };
        said.0.push(name(bundle, format!("{quote}{}{quote}", bundle.name)));
    }
    said.then(if clean.len() == 1 { " stays clean" } else { " stay clean" })
}

/// The levels of a bundle in other orders, from the bottom up.
fn level_trials(show: &Show, bundle: &str) -> anyhow::Result<Vec<Trial>> {
    let names = || show.bundles.iter().map(|bundle| bundle.name.as_str());
    let Some(b) = names().position(|name| name == bundle) else {
        return Err(WrongWords(format!(
            "--levels {bundle}: the show has no bundle of that name{} (it has {})",
            did_you_mean(bundle, names()),
            listed(names())
        ))
        .into());
    };
    level_orders(show, b)
        .into_iter()
        .map(|order| {
            let is_now = order.is_sorted();
            let (show, _) = Edit::Structure(StructureEdit::Levels { bundle: b, order }).applied(show)?;
            let levels = show.bundles[b].levels.iter().filter(|level| !level.hidden);
            let mut name = Striped::default();
            for level in levels {
                if !name.0.is_empty() {
                    name = name.then(", ");
                }
                name.0.push((level.colour, level.name.clone()));
            }
            Ok(Trial {
                name: name.then(" (bottom to top)"),
                is_now,
                touches: touches(&show, Scope::Bundle(b)),
                show,
            })
        })
        .collect()
}

fn text(tried: &str, compared_with: &str, show: &str, places: &[Tried]) -> String {
    let mut text = format!("{tried} in {show}, each against {compared_with}\n");
    for (at, place) in places.iter().enumerate() {
        let now = if place.is_now { "  (as it is now)" } else { "" };
        text += &format!(
            "\n{:>3}  {}{now}\n     {}\n     {}\n",
            at + 1,
            place.name.words(),
            place.touches.words(),
            place.difference
        );
    }
    text
}

fn spread(
    tried: &str,
    show: &str,
    moment: Moment,
    pictures: Vec<(Striped, Vec<Striped>, &Picture)>,
    caution: Option<&str>,
) -> anyhow::Result<Spread> {
    let grid = tile_size(moment.frame, pictures.len());
    let mut captioned = Vec::with_capacity(pictures.len());
    for (heading, lines, picture) in pictures {
        captioned.push(Captioned { picture: grid.tile(&image_of(picture)?)?, heading, lines, scale: None });
    }
    Ok(Spread {
        title: format!("{tried} in {show}"),
        facts: vec![format!("beat {}, {}, {}", moment.beats, moment.frame, moment.pixels.name()).into()],
        caution: caution.map(str::to_owned),
        pictures: captioned,
        columns: Some(grid.columns),
    })
}
