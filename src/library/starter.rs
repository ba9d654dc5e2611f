//! Starters: a show without its footage, to begin the next one from.

use crate::base::frame::Frame;
use crate::beat::Moment;
use crate::footage::{Shelf, Shown};
use crate::show::clip::{Fit, FootageName, Play, StandIn};
use crate::show::{Clip, Show};

/// The size at which footage is looked at for what of the frame it covers.
const LOOKED_AT: Frame = Frame { width: 64, height: 36 };

/// The show as a starter: its structure, chains and controls, with a labelled stand-in for every piece of footage; and
/// in words which footage could not be looked at, for which a picture that fills the frame stands in.
pub fn starter_of(show: &Show, shelf: &mut Shelf) -> (Show, Vec<String>) {
    let mut starter = Show { is_starter: true, ..show.clone() };
    let mut notes = Vec::new();
    let moment = Moment::of_frame(LOOKED_AT, show.pixels, show.tempo_bpm, show.rate, 0);
    for bundle in &mut starter.bundles {
        for level in &mut bundle.levels {
            for clip in &mut level.clips {
                if matches!(clip.footage, FootageName::StandIn(..)) {
                    continue;
                }
                let kind = stand_in_for(clip, shelf, &moment).unwrap_or_else(|why| {
                    notes.push(format!(
                        "clip:{}/{}/{}: a picture that fills the frame stands in, as its footage cannot be looked at: {why}",
                        bundle.name, level.name, clip.name
                    ));
                    StandIn::Picture
                });
                clip.footage = FootageName::StandIn(kind, clip.name.clone());
                (clip.fit, clip.play) = (Fit::default(), Play::default());
            }
        }
    }
    (starter, notes)
}

/// A show that begins from a starter.
pub fn begun(starter: &Show, name: Option<&str>) -> Show {
    let name = name.unwrap_or(&starter.name).to_owned();
    Show { name, is_starter: false, ..starter.clone() }
}

/// What stands in for a clip's footage, by what of the frame its first picture covers.
fn stand_in_for(clip: &Clip, shelf: &mut Shelf, moment: &Moment) -> Result<StandIn, String> {
    match shelf.shown(&clip.footage, clip.fit, &clip.play, moment).map_err(|error| error.to_string())? {
        Shown::Generated { opaque, .. } if !opaque => Ok(StandIn::Sign),
        Shown::Generated { .. } | Shown::Nothing => Ok(StandIn::Picture),
        Shown::Pixels(picture) if picture.opaque => Ok(StandIn::Picture),
        Shown::Pixels(picture) => {
            let Frame { width, height } = picture.frame;
            let alpha = |x: u32, y: u32| picture.rgba[((y * width + x) * 4 + 3) as usize];
            let sides = [(0, 0), (width - 1, 0), (0, height - 1), (width - 1, height - 1)];
            let is_around = sides.iter().all(|&(x, y)| alpha(x, y) > 127);
            let is_open = alpha(width / 2, height / 2) < 128;
            Ok(if is_around && is_open { StandIn::Border } else { StandIn::Sign })
        }
    }
}
