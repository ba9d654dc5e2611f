//! `underover` alone: the main job on the built-in demo.

use std::path::PathBuf;

use super::orders::Orders;
use super::output::say;
use super::subject::SubjectOptions;
use crate::frame::Frame;

/// The show that the demo explores, and the scope in it.
const DEMO_SHOW: &str = "night-ferry";
const DEMO_SCOPE: &str = "bundle:picture";
/// A beat at which the demo's flash is open, so that its place in the chain shows.
const DEMO_BEATS: f64 = 0.1;
/// Small enough that a software adapter is done in seconds.
const DEMO_FRAME: Frame = Frame { width: 640, height: 360 };

pub(super) fn run() -> anyhow::Result<()> {
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
