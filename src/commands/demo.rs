//! `underover` alone: the main job on the built-in demo.

use std::path::PathBuf;

use super::orders::Orders;
use super::subject::SubjectOptions;
use crate::frame::Frame;

/// The show that the demo explores.
const DEMO_SHOW: &str = "night-ferry";
/// A beat at which the demo's flash is open, so that its place in the chain shows.
const DEMO_BEATS: f64 = 0.1;
/// Small enough that a software adapter is done in seconds.
const DEMO_FRAME: Frame = Frame { width: 640, height: 360 };

pub(super) fn run() -> anyhow::Result<()> {
    println!("The demo: every order of the effects on the picture bundle of the show `{DEMO_SHOW}`.");
    let orders = Orders::demo(
        SubjectOptions::built_in(DEMO_SHOW).at(DEMO_BEATS, DEMO_FRAME),
        PathBuf::from("underover-wall.png"),
        PathBuf::from("underover-wall.json"),
    );
    orders.run()?;
    println!("Next: underover orders preset:lamp-lines --footage YOUR.jpg --out wall.png (underover --help)");
    Ok(())
}
