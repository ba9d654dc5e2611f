//! `underover render`: one picture.

use std::path::PathBuf;

use clap::Args;

use super::figures::difference_line;
use super::note;
use super::output::{Output, check_apart, check_outputs, image_of, say, write_picture};
use super::subject::{Subject, SubjectOptions, order_named};
use crate::chain::{labels, said};
use crate::exploration;
use crate::frame::Frame;
use crate::order::LookLimits;

/// The options of `render`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  underover render preset:night-ferry --at 0.1 --out ferry.png
  underover render preset:lamp-lines --footage photo.jpg --out lines.png
  underover render preset:wheelhouse --footage photo.jpg --order 3,1,2,4 --out other.png
  underover render preset:lamp-lines --order tint,edge-find --out tinted-first.png
  underover render preset:all-hands --at 0.1 --explain --out hands.png")]
pub(super) struct Render {
    #[command(flatten)]
    subject: SubjectOptions,
    /// The PNG to write
    #[arg(long, value_name = "P.png")]
    out: PathBuf,
    /// Another order for the chain: places (3,1,2) or names (edge-find,tint), each effect once
    #[arg(long, value_name = "a,b,c")]
    order: Option<String>,
    /// Say what each effect does where it stands: the picture with it against the picture without
    #[arg(long)]
    explain: bool,
}

impl Render {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let outputs = [Output { option: "--out", path: &self.out, ending: Some("png") }];
        check_outputs(&outputs)?;
        let mut subject = self.subject.open(Frame { width: 1280, height: 720 })?;
        check_apart(&outputs, &subject.read)?;
        let own: Vec<usize> = (0..subject.path.chain.len()).collect();
        let order = match &self.order {
            Some(written) => order_named(written, &subject.path.chain)?,
            None => own,
        };
        let picture = subject.renderer.picture(&subject.path, &order)?;
        write_picture(&self.out, &image_of(&picture)?)?;
        let labels = labels(&subject.path.chain);
        say(&format!(
            "wrote {} ({}): {} on {}\n",
            self.out.display(),
            picture.frame,
            said(order.iter().map(|&place| labels[place].as_str())),
            subject.footage
        ))?;
        if self.explain {
            // Explained as it was rendered.
            subject.path = subject.path.reordered(&order);
            say(&explained(&mut subject)?)?;
        }
        if let Some(caution) = subject.caution {
            note(caution);
        }
        Ok(())
    }
}

/// What each effect does where it stands, first applied first.
fn explained(subject: &mut Subject) -> anyhow::Result<String> {
    let parts = exploration::parts(&mut subject.renderer, &subject.path, LookLimits::default())?;
    let mut text = "Each effect where it stands, against the picture without it:\n".to_owned();
    for (label, part) in labels(&subject.path.chain).iter().zip(&parts) {
        text += &match &part.unseen {
            Some(unseen) => format!("  {unseen}\n"),
            None => format!("  {label}: {}\n", difference_line(&part.difference)),
        };
    }
    Ok(text)
}
