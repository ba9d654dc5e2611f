//! The output for a second screen: the show as it plays, at its own size, whatever is tried on the desk.

use egui::{Id, TextureId};

use super::Desk;
use super::sections::OnAir;
use crate::base::frame::Frame;
use crate::beat::Moment;
use crate::window::pictures::Urgency;

/// What the second window is to show.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SecondPicture {
    /// The output; nothing where it is black, or before the first picture is made.
    pub texture: Option<TextureId>,
    /// The show's own size.
    pub frame: Frame,
}

impl Desk {
    /// What the second window is to show, while it is open.
    pub fn second(&self) -> Option<SecondPicture> {
        self.second
    }

    /// Opens the second window, or closes it; it opens on the output.
    pub(super) fn open_second(&mut self, is_open: bool) {
        self.view.second = is_open;
        self.view.black = false;
    }

    /// Says that the second window did not open, and why.
    pub fn second_failed(&mut self, why: &str) {
        self.view.second = false;
        self.view.said = format!("The second window did not open: {why}.");
    }

    /// Asks for the output at the show's own size, of the beat that the pictures of this pass are of.
    pub(super) fn see_second(&mut self, on_air: &OnAir) {
        if !self.view.second {
            self.second = None;
            return;
        }
        let OnAir { show, fade } = on_air;
        let frame = show.frame;
        let moment = Moment { frame, ..self.view.moment(show, self.beats) };
        let wanted = self.pictures.output(show, fade.as_ref(), moment);
        let place = Id::unique("second window");
        let placed =
            wanted.and_then(|wanted| self.pictures.place(place, &wanted, frame, false, Urgency::Large));
        // It goes on being made while it is black, so that it is there at once.
        let texture = placed.map(|placed| placed.texture).filter(|_| !self.view.black);
        self.second = Some(SecondPicture { texture, frame });
    }
}
