//! What is known of flashes, in words and as a mark on a picture.

use egui::{Color32, Rect, Ui, vec2};

use super::font;
use crate::base::shown::{shown, shown_error};
use crate::measure::{FlashReport, Limit};
use crate::window::theme::palette;
use crate::window::threads::flash::Flashes;

/// Vermillion of Okabe and Ito, beside a sign and words.
pub const TOO_MANY: Color32 = Color32::from_rgb(0xd5, 0x5e, 0x00);

/// What is known, in a line.
pub fn flashes_said(flashes: &Flashes) -> String {
    if let Some(problem) = &flashes.problem {
        return format!("Flashes were not counted: {}. Press to try again", shown_error(problem));
    }
    match (&flashes.found, &flashes.progress) {
        (Some(found), progress) => {
            let (played, report) = found.worst();
            let worst = report.worst();
            let over =
                format!("{} in the worst second of beats 0 to {}", worst.flashes(), found.watch.over_beats);
            let allows = format!("{} allows 3", worst.limit.source());
            let with = played.map(|played| format!(" with {played}")).unwrap_or_default();
            let mut text = if !found.passes() {
                format!("Too many {}{with}: {over}; {allows}", worst.limit.label())
            } else if !found.is_whole {
                format!("Flashes as it stands: {over}; {allows}")
            } else if found.played.is_empty() {
                format!("Flashes: {over}; {allows}")
            } else {
                format!("Flashes, with every control played at its worst, too: {over}; {allows}")
            };
            if let Some(alone) = &found.alone {
                text += &format!(". The footage alone: {}", alone.worst().flashes());
            }
            if let Some((what, ..)) = progress.as_ref().filter(|_| !found.is_whole) {
                text += &format!(". {what} \u{2026}");
            }
            shown(&text).into_owned()
        }
        (None, Some((what, ..))) => format!("{what} \u{2026}"),
        (None, None) => "Flashes are counted when the window rests".to_owned(),
    }
}

/// The mark of an order on the wall: whether its flashes are too many, in a corner of its picture.
pub fn mark(ui: &Ui, picture: Rect, counted: Option<&Result<FlashReport, String>>) {
    let palette = palette(ui.ctx());
    let (text, ground, colour) = match counted {
        None => ("\u{2026}".to_owned(), palette.panel, palette.quiet),
        Some(Err(_)) => ("not counted".to_owned(), palette.panel, palette.plain),
        Some(Ok(report)) if report.passes() => {
            (format!("ok {}", report.worst().flashes()), palette.panel, palette.plain)
        }
        Some(Ok(report)) => {
            (format!("! {} {}", report.worst().flashes(), kind(report)), TOO_MANY, Color32::WHITE)
        }
    };
    let galley = ui.painter().layout_no_wrap(text, font(10.0), colour);
    let size = galley.size() + vec2(8.0, 4.0);
    let rect = Rect::from_min_size(picture.left_bottom() + vec2(4.0, -size.y - 4.0), size);
    ui.painter().rect_filled(rect, 3.0, ground);
    ui.painter().galley(rect.min + vec2(4.0, 2.0), galley, colour);
}

/// "red" or "flashes": which limit is broken most.
fn kind(report: &FlashReport) -> &'static str {
    match report.worst().limit {
        Limit::Red | Limit::ScreenRed => "red",
        Limit::General | Limit::ScreenGeneral => "flashes",
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::base::frame::Frame;
    use crate::base::picture::Picture;
    use crate::beat::FrameRate;
    use crate::measure::{FlashCounter, Viewing};
    use crate::readiness::flashing;
    use crate::readiness::flashing::{Flashing, Played, Watch};
    use crate::show::control::ControlKind;

    /// What is counted of a second of black and white by turns.
    fn report(flashes: usize) -> FlashReport {
        let frame = Frame { width: 8, height: 6 };
        let mut counter = FlashCounter::new(frame, 60, Viewing::default());
        for at in 0..60 {
            let byte = if at * flashes * 2 / 60 % 2 == 1 { 255 } else { 0 };
            counter.take(&Picture { frame, rgba: [byte, byte, byte, 255].repeat(48), opaque: true });
        }
        counter.report()
    }

    fn known(own: usize, held: Option<usize>, is_whole: bool) -> Flashes {
        let watch = Watch {
            from_beats: 0.0,
            over_beats: 16.0,
            rate: FrameRate::default(),
            viewing: Viewing::default(),
        };
        let strobe =
            Played::Held { control: "Strobe".to_owned(), kind: ControlKind::Momentary, position: 1.0 };
        let played = held.map(|held| (strobe, report(held))).into_iter().collect();
        let found = Flashing { watch, own: report(own), played, alone: None, is_whole };
        Flashes { found: Some(Arc::new(found)), ..Flashes::default() }
    }

    #[test]
    fn the_strip_says_what_it_counted_and_names_the_control_that_is_too_many() {
        let text = flashes_said(&known(2, None, true));
        assert_eq!(text, "Flashes: 1.5 in the worst second of beats 0 to 16; WCAG 2.2 allows 3");
        let text = flashes_said(&known(2, Some(10), true));
        assert!(text.starts_with("Too many general flashes with \"Strobe\" held down: 9.5 in"), "{text}");
        let text = flashes_said(&known(2, Some(2), true));
        assert!(text.starts_with("Flashes, with every control played at its worst, too: 1.5"), "{text}");
    }

    #[test]
    fn why_flashes_were_not_counted_is_said() {
        let known = Flashes { problem: Some("no device is to be had".to_owned()), ..Flashes::default() };
        assert_eq!(
            flashes_said(&known),
            "Flashes were not counted: no device is to be had. Press to try again"
        );
    }

    #[test]
    fn the_strip_says_on_the_way_what_was_found_at_least() {
        let by_now = |changes| flashing::SoFar { frames: 9, changes }.at_least();
        assert_eq!(by_now(0), None);
        assert_eq!(by_now(5).as_deref(), Some("at least 2.5 in one second"));
        let what = format!("Counting flashes, {}", by_now(8).unwrap());
        let known = Flashes { progress: Some((what, 9, 60)), ..Flashes::default() };
        assert_eq!(
            flashes_said(&known),
            "Counting flashes, at least 4 in one second, which is too many \u{2026}"
        );
    }

    #[test]
    fn the_strip_claims_nothing_of_controls_that_are_still_to_be_counted() {
        let mut known = known(2, None, false);
        known.progress = Some(("Counting flashes with \"Strobe\" held down".to_owned(), 3, 9));
        let text = flashes_said(&known);
        assert!(text.starts_with("Flashes as it stands: 1.5"), "{text}");
        assert!(text.ends_with("Counting flashes with \"Strobe\" held down \u{2026}"), "{text}");
    }
}
