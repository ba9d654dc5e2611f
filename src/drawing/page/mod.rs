//! A page to read in a browser or to print: one HTML file that needs nothing else.
//!
//! Nothing is fetched: pictures travel inside the file, typefaces are those of the system, and the page's own policy
//! forbids the browser to ask for anything. A page may have one script, which its policy names by its hash; it reads
//! and prints whole without it. Every word is escaped; words between
//! backticks are set as code. Headings follow from how sections are nested, so that none is left out.
//!
//! ```text
//! let mut page = Page::new("Night ferry");
//! page.lead("What order does to this chain.").contents();
//! page.body.section("What decides", |body| {
//!     body.paragraph("The first rule that holds counts.");
//!     body.figure(&Image::of(&picture, "the sea, mirrored")?, "Mirror before tint.");
//! });
//! files::write(path, page.html().as_bytes())?;
//! ```

mod image;
mod table;

use std::fmt::Write as _;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
pub use image::{Image, ImageError, Packing};
use sha2::{Digest as _, Sha256};
pub use table::{Cell, Table, Tone};

use super::markup::escaped;

const STYLE: &str = include_str!("page.css");

/// Nothing but what travels in the file may be loaded.
const POLICY: &str = "default-src 'none'; img-src data:; style-src 'unsafe-inline'";

/// How deep headings go: HTML knows six.
const DEEPEST: usize = 6;

/// A page.
#[derive(Debug, Clone)]
pub struct Page {
    title: String,
    lead: Option<String>,
    foot: Vec<String>,
    has_contents: bool,
    live: Option<Live>,
    /// What stands on it.
    pub body: Body,
}

/// What makes a page live: a script, and what it reads, one for each stage.
#[derive(Debug, Clone)]
struct Live {
    script: &'static str,
    shared: String,
    recordings: Vec<String>,
}

/// What stands on a page or in one of its sections, from top to bottom.
#[derive(Debug, Clone)]
pub struct Body {
    html: String,
    /// The level of the heading over this.
    level: usize,
    /// The sections of the page so far: level, title.
    sections: Vec<(usize, String)>,
    /// Whether something on it is asked, which a script sees to.
    asks: bool,
}

/// A picture on a card with words: for a page's walls.
#[derive(Debug, Clone)]
pub struct Card {
    /// What it shows.
    pub image: Image,
    /// A short name.
    pub title: String,
    /// Lines under it, the first read first.
    pub lines: Vec<String>,
    /// The order that it shows, where the page is live.
    pub code: Option<String>,
}

/// A share of a whole that several make up together.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// What those before it make up, 0 to 1.
    pub before: f64,
    /// What it adds, 0 to 1.
    pub share: f64,
    /// The same in words: "64 %".
    pub said: String,
    /// What has this share.
    pub words: String,
}

/// How much a note asks to be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Note {
    /// Worth knowing.
    Hint,
    /// Must be read.
    Caution,
}

impl Page {
    /// A page with a title and nothing else.
    pub fn new(title: &str) -> Self {
        Self {
            title: title.to_owned(),
            lead: None,
            foot: Vec::new(),
            has_contents: false,
            live: None,
            body: Body { html: String::new(), level: 1, sections: Vec::new(), asks: false },
        }
    }

    /// Says under the title what the page is.
    pub fn lead(&mut self, words: &str) -> &mut Self {
        self.lead = Some(words.to_owned());
        self
    }

    /// Adds a line to the foot of the page: how it was made.
    pub fn foot(&mut self, words: &str) -> &mut Self {
        self.foot.push(words.to_owned());
        self
    }

    /// Lists the page's sections at its top.
    pub fn contents(&mut self) -> &mut Self {
        self.has_contents = true;
        self
    }

    /// Gives the page a script and the JSON that it reads, what all stages share and one for each, in which nothing may
    /// read as markup.
    pub fn live(&mut self, script: &'static str, shared: String, recordings: Vec<String>) -> &mut Self {
        self.live = Some(Live { script, shared, recordings });
        self
    }

    /// What the browser may load and run.
    fn policy(&self) -> String {
        let script = self.live.as_ref().map(|live| {
            let hash = STANDARD.encode(Sha256::digest(live.script));
            format!("; script-src 'sha256-{hash}'")
        });
        format!("{POLICY}{}", script.unwrap_or_default())
    }

    /// The page, as the text of an HTML file.
    pub fn html(&self) -> String {
        let title = escaped(&self.title);
        let mut html = format!(
            "<!DOCTYPE html>\n<html lang=\"en-GB\">\n<head>\n<meta charset=\"utf-8\">\n\
             <meta http-equiv=\"Content-Security-Policy\" content=\"{}\">\n\
             <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
             <meta name=\"color-scheme\" content=\"light dark\">\n<meta name=\"generator\" content=\"underover {}\">\n\
             <title>{title}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n<header>\n<h1>{title}</h1>\n",
            escaped(&self.policy()),
            env!("CARGO_PKG_VERSION"),
        );
        if let Some(lead) = &self.lead {
            let _ = writeln!(html, "<p class=\"lead\">{}</p>", inline(lead));
        }
        html.push_str("</header>\n");
        if self.has_contents {
            html.push_str("<nav aria-label=\"Contents\">\n<ol>\n");
            for (number, (_, title)) in
                self.body.sections.iter().enumerate().filter(|(_, (level, _))| *level == 2)
            {
                let _ = writeln!(html, "<li><a href=\"#{}\">{}</a></li>", anchor(number), inline(title));
            }
            html.push_str("</ol>\n</nav>\n");
        }
        let _ = write!(html, "<main>\n{}</main>\n", self.body.html);
        if !self.foot.is_empty() {
            html.push_str("<footer>\n");
            for line in &self.foot {
                let _ = writeln!(html, "<p>{}</p>", inline(line));
            }
            html.push_str("</footer>\n");
        }
        if let Some(Live { script, shared, recordings }) = &self.live {
            let _ = writeln!(html, "<script type=\"application/json\" id=\"shared\">{shared}</script>");
            for (recording, number) in recordings.iter().zip(1..) {
                let of = if number == 1 { String::new() } else { format!("-{number}") };
                let _ = writeln!(
                    html,
                    "<script type=\"application/json\" id=\"recording{of}\">{recording}</script>"
                );
            }
            let _ = writeln!(html, "<script>{script}</script>");
        }
        html.push_str("</body>\n</html>\n");
        html
    }
}

impl Body {
    /// A section under a heading of its own, one level below that of what it stands in.
    pub fn section<T>(&mut self, title: &str, fill: impl FnOnce(&mut Self) -> T) -> T {
        let outer = self.level;
        self.level = (outer + 1).min(DEEPEST);
        let _ = writeln!(
            self.html,
            "<section>\n<h{level} id=\"{}\">{}</h{level}>",
            anchor(self.sections.len()),
            inline(title),
            level = self.level
        );
        self.sections.push((self.level, title.to_owned()));
        let filled = fill(self);
        self.level = outer;
        self.html.push_str("</section>\n");
        filled
    }

    /// Whether something on it is asked, so that it wants its script.
    pub fn asks(&self) -> bool {
        self.asks
    }

    pub fn paragraph(&mut self, words: &str) {
        let _ = writeln!(self.html, "<p>{}</p>", inline(words));
    }

    /// A paragraph that is read second: how something was counted, where it comes from.
    pub fn aside(&mut self, words: &str) {
        let _ = writeln!(self.html, "<p class=\"quiet\">{}</p>", inline(words));
    }

    /// Points of equal weight.
    pub fn list<S: AsRef<str>>(&mut self, points: impl IntoIterator<Item = S>) {
        self.points("ul", points);
    }

    /// Steps, numbered from 1.
    pub fn steps<S: AsRef<str>>(&mut self, steps: impl IntoIterator<Item = S>) {
        self.points("ol", steps);
    }

    /// Answers to choose from; a script asks for one before the details behind them open, and keeps it by `name`.
    /// `answer` is the place of the right one.
    pub fn choices<S: AsRef<str>>(
        &mut self,
        name: &str,
        choices: impl IntoIterator<Item = S>,
        answer: usize,
    ) {
        self.asks = true;
        let name = escaped(name);
        let _ = writeln!(self.html, "<ul class=\"choices\" data-name=\"{name}\" data-answer=\"{answer}\">");
        for choice in choices {
            let _ = writeln!(self.html, "<li>{}</li>", inline(choice.as_ref()));
        }
        self.html.push_str("</ul>\n");
    }

    /// Markup that shows once an answer is chosen: what there is to try.
    pub fn tried(&mut self, html: &str) {
        let _ =
            writeln!(self.html, "<div class=\"to-try\">\n<p>Try it with your own hands:</p>\n{html}</div>");
    }

    fn points<S: AsRef<str>>(&mut self, element: &str, points: impl IntoIterator<Item = S>) {
        let _ = writeln!(self.html, "<{element}>");
        for point in points {
            let _ = writeln!(self.html, "<li>{}</li>", inline(point.as_ref()));
        }
        let _ = writeln!(self.html, "</{element}>");
    }

    /// Facts by name.
    pub fn facts<N: AsRef<str>, S: AsRef<str>>(&mut self, facts: impl IntoIterator<Item = (N, S)>) {
        self.html.push_str("<dl>\n");
        for (name, fact) in facts {
            let _ = writeln!(
                self.html,
                "<div><dt>{}</dt><dd>{}</dd></div>",
                inline(name.as_ref()),
                inline(fact.as_ref())
            );
        }
        self.html.push_str("</dl>\n");
    }

    /// A sentence that stands out by a sign and a frame.
    pub fn note(&mut self, note: Note, words: &str) {
        let (class, sign, said) = match note {
            Note::Hint => ("hint", "i", "Note: "),
            Note::Caution => ("caution", "!", "Caution: "),
        };
        let said = if words.starts_with(said) { "" } else { said };
        let _ = writeln!(
            self.html,
            "<div class=\"note {class}\" role=\"note\"><span class=\"sign\" aria-hidden=\"true\">{sign}</span>\
             <p><span class=\"said\">{said}</span>{}</p></div>",
            inline(words)
        );
    }

    /// What shows only when it is asked for; in print it shows.
    pub fn details<T>(&mut self, summary: &str, fill: impl FnOnce(&mut Self) -> T) -> T {
        let _ = writeln!(self.html, "<details>\n<summary>{}</summary>", inline(summary));
        let filled = fill(self);
        self.html.push_str("</details>\n");
        filled
    }

    /// A picture over its caption.
    pub fn figure(&mut self, image: &Image, caption: &str) {
        let _ = writeln!(
            self.html,
            "<figure>\n{}\n<figcaption>{}</figcaption>\n</figure>",
            image.element(),
            inline(caption)
        );
    }

    /// Pictures beside each other, each over its own caption, so that they can be compared.
    pub fn beside<'a>(&mut self, pictures: impl IntoIterator<Item = (&'a Image, &'a str)>) {
        self.html.push_str("<div class=\"beside\">\n");
        for (image, caption) in pictures {
            self.figure(image, caption);
        }
        self.html.push_str("</div>\n");
    }

    /// What makes up a whole, the first at its beginning, each after those before it.
    pub fn bars(&mut self, bars: &[Bar]) {
        self.html.push_str("<ol class=\"bars\">\n");
        for bar in bars {
            let across = |share: f64| (share.clamp(0.0, 1.0) * 1000.0).round();
            let (before, end) = (across(bar.before), across(bar.before + bar.share));
            let _ = writeln!(
                self.html,
                "<li><svg viewBox=\"0 0 1000 10\" preserveAspectRatio=\"none\" aria-hidden=\"true\">\
                 <rect class=\"whole\" width=\"1000\" height=\"10\"/><rect class=\"before\" width=\"{before}\" height=\"10\"/>\
                 <rect class=\"now\" x=\"{before}\" width=\"{}\" height=\"10\"/></svg>\
                 <span class=\"share\">{}</span> <span>{}</span></li>",
                end - before,
                inline(&bar.said),
                inline(&bar.words)
            );
        }
        self.html.push_str("</ol>\n");
    }

    /// A wall of pictures with words.
    pub fn cards(&mut self, cards: &[Card]) {
        self.cards_as("cards", cards);
    }

    /// The same of few pictures, larger.
    pub fn large_cards(&mut self, cards: &[Card]) {
        self.cards_as("cards large", cards);
    }

    fn cards_as(&mut self, class: &str, cards: &[Card]) {
        let _ = writeln!(self.html, "<ul class=\"{class}\">");
        for card in cards {
            let _ = write!(
                self.html,
                "<li>{}<p class=\"name\">{}</p>",
                card.image.element(),
                inline(&card.title)
            );
            for line in &card.lines {
                let _ = write!(self.html, "<p>{}</p>", inline(line));
            }
            if let Some(code) = &card.code {
                let code = escaped(code);
                let _ = write!(
                    self.html,
                    "<p class=\"when-live\"><a data-code=\"{code}\" href=\"#{code}\">Show {code} live</a></p>"
                );
            }
            self.html.push_str("</li>\n");
        }
        self.html.push_str("</ul>\n");
    }

    /// Markup of the caller's own, whose words are escaped already.
    pub fn markup(&mut self, html: &str) {
        self.html.push_str(html);
    }

    /// A drawing over its caption: the text of an SVG element, whose words are escaped already. `alt` says in words
    /// what it shows.
    pub fn drawing(&mut self, svg: &str, alt: &str, caption: &str) {
        let _ = writeln!(
            self.html,
            "<figure class=\"drawing\">\n<div role=\"img\" aria-label=\"{}\">{svg}</div>\n<figcaption>{}</figcaption>\n</figure>",
            escaped(alt),
            inline(caption)
        );
    }

    /// A table; one wider than the page is scrolled in its own frame.
    pub fn table(&mut self, table: &Table) {
        table.write(&mut self.html);
    }
}

fn anchor(section: usize) -> String {
    format!("s{}", section + 1)
}

/// Escaped words; what stands between two backticks is code.
fn inline(words: &str) -> String {
    let mut text = String::with_capacity(words.len());
    let mut parts = words.split('`').peekable();
    let mut is_code = false;
    while let Some(part) = parts.next() {
        match (is_code, parts.peek().is_some()) {
            (true, true) => {
                let _ = write!(text, "<code>{}</code>", escaped(part));
            }
            // A backtick without a second one stands for itself.
            (true, false) => {
                let _ = write!(text, "`{}", escaped(part));
            }
            (false, _) => text.push_str(&escaped(part)),
        }
        is_code = !is_code;
    }
    text
}

#[cfg(test)]
mod tests {
    use ::image::RgbaImage;

    use super::*;

    fn small() -> Image {
        Image::of(&RgbaImage::from_pixel(4, 2, ::image::Rgba([10, 20, 30, 255])), "four by <two>").unwrap()
    }

    #[test]
    fn a_page_asks_the_network_for_nothing() {
        let mut page = Page::new("Ferry");
        page.body.figure(&small(), "caption");
        let html = page.html();
        for outside in ["http:", "https:", "src=\"//", "@import", "url(", "<script", "<link"] {
            assert!(!html.contains(outside), "{outside} in the page");
        }
        assert!(html.contains("default-src &#39;none&#39;"));
        assert!(html.contains("lang=\"en-GB\""));
    }

    #[test]
    fn words_are_escaped_everywhere() {
        let bad = "<script>&\"'";
        let mut page = Page::new(bad);
        page.lead(bad).foot(bad).contents();
        page.body.section(bad, |body| {
            body.paragraph(bad);
            body.aside(bad);
            body.list([bad]);
            body.steps([bad]);
            body.facts([(bad, bad)]);
            body.note(Note::Caution, bad);
            body.details(bad, |body| body.paragraph(bad));
            let image = Image::of(&RgbaImage::new(1, 1), bad).unwrap();
            body.figure(&image, bad);
            let lines = vec![bad.to_owned()];
            body.cards(&[Card { image, title: bad.to_owned(), lines, code: Some(bad.to_owned()) }]);
            body.bars(&[Bar { before: 0.0, share: 0.5, said: bad.to_owned(), words: bad.to_owned() }]);
            body.drawing("<svg></svg>", bad, bad);
            body.table(
                &Table::new(bad, [bad, bad]).with([Cell::text(bad), Cell::marked("+", bad, Tone::Good)]),
            );
        });
        assert!(!page.html().contains("<script"));
        assert!(!page.html().contains("alt=\"<"));
    }

    #[test]
    fn headings_go_down_one_level_at_a_time() {
        let mut page = Page::new("one");
        page.body.section("two", |body| {
            body.section("three", |_| ());
            body.section("three again", |_| ());
        });
        page.body.section("two again", |_| ());
        let html = page.html();
        let levels: Vec<char> =
            html.match_indices("<h").filter_map(|(at, _)| html[at + 2..].chars().next()).collect();
        let levels: Vec<u32> = levels.into_iter().filter_map(|level| level.to_digit(10)).collect();
        assert_eq!(levels, [1, 2, 3, 3, 2]);
    }

    #[test]
    fn the_contents_lead_to_the_sections() {
        let mut page = Page::new("one");
        page.contents();
        page.body.section("first", |body| body.section("inside", |_| ()));
        page.body.section("second", |_| ());
        let html = page.html();
        assert!(html.contains("<a href=\"#s3\">second</a>"));
        assert!(html.contains("<h2 id=\"s3\">second</h2>"));
        assert!(!html.contains("#s2"), "only the sections of the page itself are listed");
    }

    #[test]
    fn words_between_backticks_are_code_and_a_lone_backtick_stays() {
        assert_eq!(inline("use `a<b` or ` alone"), "use <code>a&lt;b</code> or ` alone");
        assert_eq!(inline("`tint`"), "<code>tint</code>");
        assert_eq!(inline("plain"), "plain");
    }

    #[test]
    fn every_picture_has_its_words_and_its_size() {
        let mut page = Page::new("one");
        page.body.figure(&small(), "caption");
        let html = page.html();
        assert!(html.contains("alt=\"four by &lt;two&gt;\""));
        assert!(html.contains("width=\"4\" height=\"2\""));
    }
}
