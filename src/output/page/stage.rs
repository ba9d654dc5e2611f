//! The part of a page in which a chain is alive; without its script it is a picture and a list.

use std::fmt::Write as _;

use super::Recorded;
use super::triangle::triangle;
use crate::base::frame::PixelMode;
use crate::drawing::ink::{ChipForm, ChipLook};
use crate::drawing::markup::escaped;
use crate::drawing::page::Image;
use crate::order::marks;
use crate::readiness::caution;

/// The stage of a chain, the `nth` of its page: `still` is its output in its own order, for where nothing is live and
/// the stage is seen all the same.
pub fn stage(recorded: &Recorded, still: Option<&Image>, nth: usize) -> String {
    // The first has the plain names, which links and tests rely on.
    let of = if nth == 0 { String::new() } else { format!("-{}", nth + 1) };
    let (width, height) = (recorded.size.width, recorded.size.height);
    let marks = marks(&recorded.chain);
    let mut looks = String::new();
    let mut path = String::new();
    for (place, used) in recorded.chain.iter().enumerate() {
        let mark = marks.of(place);
        let _ = writeln!(looks, "{}", chip_style(mark));
        let changes = used.written_changes().join(", ");
        let off = if used.on { "" } else { " (switched off)" };
        let _ = writeln!(
            path,
            "<li><span class=\"chip mark-{mark}\">{mark}</span> {}{off} <small>{}</small></li>",
            escaped(&recorded.labels[place]),
            escaped(&changes)
        );
    }
    let moments = if recorded.plays() {
        let caution = caution::of_chain(&recorded.chain)
            .map_or_else(String::new, |words| format!("<p class=\"quiet\">{}</p>", escaped(words)));
        format!(
            "<div id=\"moments{of}\"><p><button type=\"button\" id=\"play{of}\">Play</button> <label for=\"beat{of}\">Moment</label>\
             <input type=\"range\" id=\"beat{of}\" min=\"0\" value=\"0\" step=\"1\"><output id=\"beat-said{of}\"></output></p>{caution}</div>"
        )
    } else {
        format!("<div id=\"moments{of}\"></div>")
    };
    let rounded = match recorded.pixels {
        PixelMode::Encoded8Bit => "",
        PixelMode::LinearFloat => {
            "<p class=\"quiet when-live\">In linear-float another adapter may round a byte of the live picture otherwise than \
             the one that made the stills: by 1 of 255 at most.</p>\n"
        }
    };
    // Beside what is moved, the picture stays in view.
    let widest = format!("--widest: calc(62vh * {width} / {height})");
    format!(
        "<section class=\"stage\" aria-label=\"The chain, live\">\n<style>\n{looks}</style>\n\
         <div class=\"views\" style=\"{widest}\"><div class=\"screen\">{still}\
         <canvas id=\"live{of}\" width=\"{width}\" height=\"{height}\" role=\"img\" aria-describedby=\"said{of}\"></canvas>\
         <canvas id=\"other{of}\" width=\"{width}\" height=\"{height}\" role=\"img\" aria-describedby=\"other-said{of}\"></canvas></div></div>\n<div>\n\
         <p class=\"when-live\"><output id=\"said{of}\" role=\"status\" aria-live=\"polite\"></output></p>\n\
         {rounded}<p class=\"quiet when-still\">The picture stands still here: <span id=\"why{of}\">the page has not run its script</span>. \
         All that follows holds.</p>\n\
         <ol class=\"path\" id=\"path{of}\" aria-label=\"The effects, first applied first\">\n{path}</ol>\n\
         <div class=\"when-live tools\">\
         <p class=\"quiet\">Drag a card, or press its arrow keys: the first effect is under all others.</p>\
         {moments}\
         <div class=\"comparing\"><p><button type=\"button\" id=\"compare{of}\">Compare with this order</button> \
         <button type=\"button\" id=\"own{of}\">Back to the file\u{2019}s own</button></p>\
         <p class=\"when-comparing\">Left: <output id=\"other-said{of}\"></output> \
         <label for=\"wipe{of}\">Wipe</label><input type=\"range\" id=\"wipe{of}\" min=\"0\" max=\"100\" value=\"50\"> \
         <label><input type=\"checkbox\" id=\"beside{of}\"> side by side</label></p></div>\
         <details><summary>Take it along</summary><p class=\"quiet\">The address of this page names the order shown. The chain as a \
         file for Underover:</p><textarea id=\"toml{of}\" readonly rows=\"12\" aria-label=\"The chain as a file\"></textarea>\
         <p><button type=\"button\" id=\"copy{of}\">Copy</button> <output id=\"copied{of}\"></output></p></details>\
         </div>\n{pairs}</div>\n</section>\n",
        pairs = triangle(recorded, &of),
        still = still.map(Image::element).unwrap_or_default(),
    )
}

/// How the chip of a mark looks, as it does on walls and in the window.
fn chip_style(mark: u32) -> String {
    let look = ChipLook::of(mark);
    let round = match look.form {
        ChipForm::Disc => "50%",
        ChipForm::Square | ChipForm::Frame => "4px",
    };
    format!(
        ".mark-{mark} {{ background: {}; color: {}; border: 3px solid {}; border-radius: {round}; }}",
        look.under_numeral, look.numeral, look.colour
    )
}
