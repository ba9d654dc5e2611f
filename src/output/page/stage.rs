//! The part of a page in which a chain is alive; without its script it is a picture and a list.

use std::fmt::Write as _;

use super::Recorded;
use crate::drawing::ink::{ChipForm, ChipLook};
use crate::drawing::markup::escaped;
use crate::drawing::page::Image;
use crate::order::marks;
use crate::readiness::caution;

/// The stage of a chain: `still` is its output in its own order, for where nothing is live.
pub fn stage(recorded: &Recorded, still: &Image) -> String {
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
            "<div id=\"moments\"><p><button type=\"button\" id=\"play\">Play</button> <label for=\"beat\">Moment</label>\
             <input type=\"range\" id=\"beat\" min=\"0\" value=\"0\" step=\"1\"><output id=\"beat-said\"></output></p>{caution}</div>"
        )
    } else {
        "<div id=\"moments\"></div>".to_owned()
    };
    format!(
        "<section class=\"stage\" aria-label=\"The chain, live\">\n<style>\n{looks}</style>\n\
         <div class=\"views\"><div class=\"screen\">{still}\
         <canvas id=\"live\" width=\"{width}\" height=\"{height}\" role=\"img\" aria-describedby=\"said\"></canvas>\
         <canvas id=\"other\" width=\"{width}\" height=\"{height}\" role=\"img\" aria-describedby=\"other-said\"></canvas></div></div>\n\
         <p class=\"when-live\"><output id=\"said\" role=\"status\" aria-live=\"polite\"></output></p>\n\
         <p class=\"quiet when-still\">The picture stands still here: <span id=\"why\">the page has not run its script</span>. \
         All that follows holds.</p>\n\
         <ol class=\"path\" id=\"path\" aria-label=\"The effects, first applied first\">\n{path}</ol>\n\
         <div class=\"when-live tools\">\
         <p class=\"quiet\">Drag a card, or press its arrow keys: the first effect is under all others.</p>\
         {moments}\
         <div class=\"comparing\"><p><button type=\"button\" id=\"compare\">Compare with this order</button> \
         <button type=\"button\" id=\"own\">Back to the file\u{2019}s own</button></p>\
         <p class=\"when-comparing\">Left: <output id=\"other-said\"></output> \
         <label for=\"wipe\">Wipe</label><input type=\"range\" id=\"wipe\" min=\"0\" max=\"100\" value=\"50\"> \
         <label><input type=\"checkbox\" id=\"beside\"> side by side</label></p></div>\
         <details><summary>Turn a pair round</summary><p class=\"quiet\">What each pair decides by itself, of all that order does \
         here; shares overlap. A press puts one under the other.</p><ul id=\"pairs\" class=\"pairs\"></ul></details>\
         <details><summary>Take it along</summary><p class=\"quiet\">The address of this page names the order shown. The chain as a \
         file for Underover:</p><textarea id=\"toml\" readonly rows=\"12\" aria-label=\"The chain as a file\"></textarea>\
         <p><button type=\"button\" id=\"copy\">Copy</button> <output id=\"copied\"></output></p></details>\
         </div>\n</section>\n",
        still = still.element(),
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
