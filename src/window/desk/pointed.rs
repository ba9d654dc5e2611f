//! What is pointed at is tried in the large picture: once the pointer or the keyboard has rested on it, until it leaves.

use std::sync::Arc;
use std::time::Duration;

use egui::{Context, Id};

use super::Desk;
use crate::beat::Moment;
use crate::readiness::caution;
use crate::show::Show;
use crate::window::scene::Pointed;

/// How long the pointer rests on a thing until it is tried, in seconds: whoever moves across a wall is never shown
/// more than the three changes to and fro in a second that WCAG 2.2 allows.
const RESTS: f64 = 0.35;

/// What is pointed at.
#[derive(Default)]
pub(super) struct Pointing {
    /// Which thing, and since when, in seconds.
    on: Option<(Id, f64)>,
    /// Something was done there, and its picture is what it is for: not tried again before another thing is.
    is_done: bool,
    /// The beat at which what is tried is seen, where it stands still.
    beats: f64,
}

impl Desk {
    /// Takes in what a pass found pointed at, and whether something was done in it.
    pub(super) fn take_pointed(&mut self, pointed: Option<Pointed>, has_acted: bool, ctx: &Context) {
        let before = self.view.preview.take();
        let pointed = pointed.filter(|_| self.view.dragged().is_none());
        let Some(Pointed { id, preview, by }) = pointed else {
            self.pointing.on = None;
            if before.is_some() {
                ctx.request_repaint();
            }
            return;
        };
        let now = ctx.input(|input| input.time);
        let since = match self.pointing.on {
            Some((known, since)) if known == id => since,
            _ => {
                self.pointing.is_done = false;
                now
            }
        };
        self.pointing.on = Some((id, since));
        self.pointing.is_done |= has_acted;
        let left = RESTS - (now - since);
        if !self.pointing.is_done {
            if by.is_carried() || left <= 0.0 {
                if before.is_none() {
                    self.pointing.beats = self.beats;
                }
                self.view.preview = preview;
            } else {
                ctx.request_repaint_after(Duration::from_secs_f64(left));
            }
        }
        if before != self.view.preview {
            ctx.request_repaint();
        }
    }

    /// The moment that the large picture is of: what may flash stands still while it is only pointed at, as nobody
    /// has asked to see that played.
    pub(super) fn large_moment(&self, seen: &Arc<Show>, moment: Moment) -> Moment {
        match self.holds_preview(seen) {
            true => self.view.moment(seen, self.pointing.beats),
            false => moment,
        }
    }

    /// Whether what is pointed at stands still while time goes on.
    pub(super) fn holds_preview(&self, seen: &Show) -> bool {
        self.view.playing
            && self.view.dragged().is_none()
            && self.view.preview.is_some()
            && caution::of_show(seen).is_some()
    }
}
