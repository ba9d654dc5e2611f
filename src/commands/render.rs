//! `underover render`: one picture.

use std::path::PathBuf;

use clap::Args;
use image::RgbaImage;

use super::note;
use super::output::{Output, check_apart, check_outputs, say, write_picture};
use super::subject::{SubjectOptions, order_named};
use crate::chain::{labels, said};
use crate::frame::Frame;

/// The options of `render`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  underover render preset:night-ferry --at 0.1 --out ferry.png
  underover render preset:lamp-lines --footage photo.jpg --out lines.png
  underover render preset:wheelhouse --footage photo.jpg --order 3,1,2,4 --out other.png
  underover render preset:lamp-lines --order tint,edge-find --out tinted-first.png")]
pub(super) struct Render {
    #[command(flatten)]
    subject: SubjectOptions,
    /// The PNG to write
    #[arg(long, value_name = "P.png")]
    out: PathBuf,
    /// Another order for the chain: places (3,1,2) or names (edge-find,tint), each effect once
    #[arg(long, value_name = "a,b,c")]
    order: Option<String>,
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
        let (width, height) = (picture.frame.width, picture.frame.height);
        let image = RgbaImage::from_raw(width, height, picture.rgba)
            .ok_or_else(|| anyhow::anyhow!("the GPU gave back too few bytes for {width}x{height}"))?;
        write_picture(&self.out, &image)?;
        let labels = labels(&subject.path.chain);
        say(&format!(
            "wrote {} ({width}x{height}): {} on {}\n",
            self.out.display(),
            said(order.iter().map(|&place| labels[place].as_str())),
            subject.footage
        ))?;
        if let Some(caution) = subject.caution {
            note(caution);
        }
        Ok(())
    }
}
