//! Drawings as SVG: words and lines on a page.

use std::fmt::Write as _;

use crate::markup::escaped;

/// The typefaces of a drawing: the first that the reader's system has.
pub(crate) const FACES: &str = "Ubuntu, 'Noto Sans', 'DejaVu Sans', Helvetica, Arial, sans-serif";
/// Widest average advance of the faces that a printer may put in, in em.
const ADVANCE: f64 = 0.56;

/// Elements of a drawing, in the order drawn; lengths are millimetres.
#[derive(Debug, Default)]
pub(crate) struct Drawing {
    /// Its elements.
    pub(crate) body: String,
}

impl Drawing {
    /// One line of words from a point on its baseline.
    pub(crate) fn text(&mut self, at: [f64; 2], size: f64, style: &str, words: &str) {
        let [x, y] = at;
        let _ = writeln!(
            self.body,
            "<text x=\"{x:.2}\" y=\"{y:.2}\" font-size=\"{size}\" {style}>{}</text>",
            escaped(words)
        );
    }

    /// Lines of words from `at` on, wrapped; the y of the line after them.
    pub(crate) fn wrapped(&mut self, at: [f64; 2], width: f64, size: f64, style: &str, words: &str) -> f64 {
        let [x, mut y] = at;
        for line in lines(words, (width / (size * ADVANCE)) as usize) {
            self.text([x, y], size, style, &line);
            y += size * 1.35;
        }
        y
    }

    /// A straight line.
    pub(crate) fn line(&mut self, from: [f64; 2], to: [f64; 2], width: f64, colour: &str) {
        let _ = writeln!(
            self.body,
            "<line x1=\"{:.2}\" y1=\"{:.2}\" x2=\"{:.2}\" y2=\"{:.2}\" stroke=\"{colour}\" stroke-width=\"{width}\"/>",
            from[0], from[1], to[0], to[1]
        );
    }

    /// A rectangle.
    pub(crate) fn frame(&mut self, at: [f64; 2], size: [f64; 2], radius: f64, style: &str) {
        let _ = writeln!(
            self.body,
            "<rect x=\"{:.2}\" y=\"{:.2}\" width=\"{:.2}\" height=\"{:.2}\" rx=\"{radius}\" {style}/>",
            at[0], at[1], size[0], size[1]
        );
    }
}

/// Words in lines of at most this many characters; a longer word is broken.
pub(crate) fn lines(words: &str, most: usize) -> Vec<String> {
    let most = most.max(1);
    let mut lines = vec![String::new()];
    let mut used = 0;
    for word in words.split_whitespace() {
        let mut rest: Vec<char> = word.chars().collect();
        while !rest.is_empty() {
            let gap = usize::from(used > 0);
            if used + gap + rest.len() > most && used > 0 {
                lines.push(String::new());
                used = 0;
                continue;
            }
            let taken: Vec<char> = rest.drain(..rest.len().min(most)).collect();
            if let Some(line) = lines.last_mut() {
                if gap > 0 {
                    line.push(' ');
                }
                line.extend(&taken);
            }
            used += gap + taken.len();
        }
    }
    lines
}
