//! `underover compare`: two chains or shows, or two orders of one, beside each other.

use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::documents::read_here;
use super::figures::DifferenceFigures;
use super::named_order::order_named;
use super::output::{
    Output, Replace, check_outputs, check_places, image_of, is_standard_output, say, sheet_outputs,
};
use super::subject::{Subject, SubjectOptions};
use super::{WrongWords, note};
use crate::base::doing::doing;
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::measure::{Difference, DifferenceScale};
use crate::order::marks;
use crate::output::wall::{Captioned, Spread, tile_size};
use crate::show::chain::{labels, one_after_another};

/// The options of `compare`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  underover compare preset:lamp-lines preset:quay-fringes --footage photo.jpg --out pair.png
  underover compare preset:all-hands --order 31245 --at 0.1 --out pair.png")]
pub(super) struct Compare {
    #[command(flatten)]
    subject: SubjectOptions,
    /// The other chain or show, or `preset:NAME`; left out, orders of the first are compared
    #[arg(value_parser = read_here)]
    other: Option<String>,
    /// An order of the one file, by its code (31245), marks or names: against the file's own, or a second --order
    #[arg(long, value_name = "CODE", conflicts_with = "other")]
    order: Vec<String>,
    /// The sheet to write: both pictures, their difference and its scale
    #[arg(long, value_name = "P.png")]
    out: Option<PathBuf>,
    /// The figures to write (`-` is standard output)
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    #[command(flatten)]
    replace: Replace,
}

/// One of the two.
struct Side {
    name: String,
    /// The order's code.
    code: String,
    /// What is applied, in words.
    said: String,
    picture: Picture,
}

#[derive(Serialize)]
struct Figures<'a> {
    a: SideFigures<'a>,
    b: SideFigures<'a>,
    frame: String,
    pixels: &'static str,
    at_beats: f64,
    adapter: String,
    same_bytes: bool,
    #[serde(flatten)]
    difference: DifferenceFigures,
}

#[derive(Serialize)]
struct SideFigures<'a> {
    name: &'a str,
    code: &'a str,
    order: &'a str,
}

impl Compare {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let outputs = sheet_outputs(self.out.as_deref(), self.json.as_deref(), self.replace);
        check_places(&outputs)?;
        if self.order.len() > 2 {
            return Err(WrongWords(format!(
                "--order is given {} times; two orders are compared",
                self.order.len()
            ))
            .into());
        }
        if self.other.is_none() && self.order.is_empty() {
            return Err(WrongWords(
                "compare what with what? Name a second file, or an --order of the first".to_owned(),
            )
            .into());
        }
        let size = Frame { width: 1280, height: 720 };
        let documents = self.subject.documents()?;
        let mut subject = self.subject.open_by(&documents, size)?;
        check_outputs(&outputs)?;
        subject.keeps(3)?;
        let now = doing("rendering both");
        let (a, b) = match &self.other {
            Some(other) => {
                let frame = subject.path.moment.frame;
                let mut second = self.subject.of(other, frame).open_by(&documents, frame)?;
                check_outputs(&outputs)?;
                (side(&mut subject, None)?, side(&mut second, None)?)
            }
            None => {
                let first = self.order.get(1).map(|_| self.order[0].as_str());
                (side(&mut subject, first)?, side(&mut subject, self.order.last().map(String::as_str))?)
            }
        };
        now.now("measuring how far apart they are");
        let difference = subject.renderer.difference(&a.picture, &b.picture)?;
        let same_bytes = a.picture.rgba == b.picture.rgba;
        let line = if same_bytes { "the same bytes".to_owned() } else { difference.to_string() };
        if !self.json.as_deref().is_some_and(is_standard_output) {
            say(&format!("{}\n{}\n{line}\n", a.line(), b.line()))?;
        }
        if let Some(out) = &self.out {
            now.now("drawing the sheet");
            let sheet = self.sheet(&mut subject, &a, &b, &difference, &line)?.drawn()?;
            Output::made("--out", out, "png", self.replace).write_picture(&sheet)?;
            note(&format!("wrote {}", out.display()));
        }
        if let Some(json) = &self.json {
            let moment = &subject.path.moment;
            Output::figures(json, self.replace).write_json(&Figures {
                a: a.figures(),
                b: b.figures(),
                frame: moment.frame.to_string(),
                pixels: moment.pixels.name(),
                at_beats: moment.beats,
                adapter: subject.renderer.gpu().adapter().to_string(),
                same_bytes,
                difference: (&difference).into(),
            })?;
        }
        subject.closing_notes();
        Ok(())
    }

    fn sheet(
        &self,
        subject: &mut Subject,
        a: &Side,
        b: &Side,
        difference: &Difference,
        line: &str,
    ) -> anyhow::Result<Spread> {
        let moment = subject.path.moment;
        let grid = tile_size(moment.frame, 3);
        let scale = DifferenceScale::to(difference.max);
        let map = subject.renderer.difference_picture(&a.picture, &b.picture, scale)?;
        let mut pictures = Vec::new();
        let parts = [
            (&a.picture, format!("A  {}", a.name), vec![a.order().into()], None),
            (&b.picture, format!("B  {}", b.name), vec![b.order().into()], None),
            (&map, "How far apart, pixel by pixel".to_owned(), vec![line.into()], Some(scale.bar())),
        ];
        for (picture, heading, lines, scale) in parts {
            pictures.push(Captioned {
                picture: grid.tile(&image_of(picture)?)?,
                heading: heading.into(),
                lines,
                scale,
            });
        }
        Ok(Spread {
            title: if a.name == b.name { a.name.clone() } else { format!("{} and {}", a.name, b.name) },
            facts: vec![subject.source().then(format!(
                ", beat {}, {}, {}",
                moment.beats,
                moment.frame,
                moment.pixels.name()
            ))],
            caution: subject.caution.map(str::to_owned),
            pictures,
            columns: Some(3),
        })
    }
}

impl Side {
    /// "21: tint, then edge-find"; without effects there is no code.
    fn order(&self) -> String {
        if self.code.is_empty() { self.said.clone() } else { format!("{}: {}", self.code, self.said) }
    }

    fn line(&self) -> String {
        format!("{}, {}", self.name, self.order())
    }

    fn figures(&self) -> SideFigures<'_> {
        SideFigures { name: &self.name, code: &self.code, order: &self.said }
    }
}

fn side(subject: &mut Subject, order: Option<&str>) -> anyhow::Result<Side> {
    let chain = &subject.path.chain;
    let order = match order {
        Some(written) => order_named("--order", written, chain)?,
        None => (0..chain.len()).collect(),
    };
    let labels = labels(chain);
    let said = one_after_another(order.iter().map(|&place| labels[place].as_str()));
    let code = marks(chain).code(&order);
    Ok(Side {
        name: subject.name.clone(),
        code,
        said,
        picture: subject.renderer.picture(&subject.path, &order)?,
    })
}
