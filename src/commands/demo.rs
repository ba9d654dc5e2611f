//! `underover` alone, or with a file: the window; where there is no display, the main job on the built-in demo.

use std::path::{Path, PathBuf};

use super::note;
use super::orders::Orders;
use super::output::say;
use super::progress::Teller;
use super::subject::SubjectOptions;
use crate::base::frame::Frame;
use crate::gpu::ADAPTER_VARIABLE;
use crate::window;
use crate::window::WindowError;

/// The show that the demo explores, and the scope in it.
const DEMO_SHOW: &str = "landfall";
const DEMO_SCOPE: &str = "bundle:picture";
/// The beat at which the window opens it, too.
const DEMO_BEATS: f64 = 0.1;
/// Small enough that a software adapter is done in seconds.
const DEMO_FRAME: Frame = Frame { width: 640, height: 360 };

pub(super) fn run(file: Option<&Path>, effects: Option<&Path>) -> anyhow::Result<()> {
    let adapter = std::env::var(ADAPTER_VARIABLE).ok().filter(|name| !name.is_empty());
    match (window::run(file.map(Path::to_owned), effects.map(Path::to_owned), adapter), file) {
        (Ok(()), _) => Ok(()),
        (Err(error @ WindowError::NoDisplay(_)), Some(file)) => Err(anyhow::anyhow!(
            "{error}; without one, `underover orders {0}` and `underover render {0}` work on it",
            file.display()
        )),
        (Err(error @ WindowError::NoDisplay(_)), None) => {
            note(&format!("{error}; writing the demo instead"));
            wall()
        }
        (Err(error), _) => Err(error.into()),
    }
}

fn wall() -> anyhow::Result<()> {
    let _teller = Teller::begin();
    say(&format!("The demo: every order of the effects on {DEMO_SCOPE} of preset:{DEMO_SHOW}.\n"))?;
    let orders = Orders::demo(
        SubjectOptions::built_in(DEMO_SHOW).in_scope(DEMO_SCOPE).at(DEMO_BEATS, DEMO_FRAME),
        PathBuf::from("underover-wall.png"),
        PathBuf::from("underover-wall.json"),
    );
    orders.run()?;
    say(
        "Next, on a picture of your own: underover orders preset:all-hands --footage photo.jpg --out wall.png\n\
         All commands: underover --help\n",
    )
}
