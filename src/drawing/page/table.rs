//! Tables of a page.

use std::fmt::Write as _;

use super::inline;
use crate::base::coding::ColourCode;

/// Rows of a table that is kept on one printed page.
const SHORT: usize = 8;

/// A table: a caption, headers of columns, and rows whose first cell is the row's header.
#[derive(Debug, Clone)]
pub struct Table {
    caption: String,
    head: Vec<String>,
    rows: Vec<Vec<Cell>>,
}

/// One cell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cell {
    sign: Option<(String, Tone)>,
    words: String,
    is_number: bool,
    stripe: Option<ColourCode>,
}

/// What a sign's colour helps to see; the sign and the words say it alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    /// Free, right, within.
    Good,
    /// Right here, worth a look.
    Fair,
    /// Matters, wrong, too much.
    Bad,
}

impl Cell {
    pub fn text(words: &str) -> Self {
        Self { sign: None, words: words.to_owned(), is_number: false, stripe: None }
    }

    /// A number, set so that its column lines up.
    pub fn number(number: &str) -> Self {
        Self { is_number: true, ..Self::text(number) }
    }

    /// The same after the stripe of what a person gave a colour.
    #[must_use]
    pub fn striped(self, stripe: Option<ColourCode>) -> Self {
        Self { stripe, ..self }
    }

    /// Words after a sign of one or two characters.
    pub fn marked(sign: &str, words: &str, tone: Tone) -> Self {
        Self { sign: Some((sign.to_owned(), tone)), ..Self::text(words) }
    }
}

impl Tone {
    fn class(self) -> &'static str {
        match self {
            Self::Good => "good",
            Self::Fair => "fair",
            Self::Bad => "bad",
        }
    }
}

impl Table {
    /// A table without rows; `caption` says what it is.
    pub fn new<S: AsRef<str>>(caption: &str, head: impl IntoIterator<Item = S>) -> Self {
        let head = head.into_iter().map(|words| words.as_ref().to_owned()).collect();
        Self { caption: caption.to_owned(), head, rows: Vec::new() }
    }

    /// Adds a row; its first cell is its header.
    pub fn row(&mut self, cells: impl IntoIterator<Item = Cell>) {
        self.rows.push(cells.into_iter().collect());
    }

    /// The table with one row more.
    #[must_use]
    pub fn with(mut self, cells: impl IntoIterator<Item = Cell>) -> Self {
        self.row(cells);
        self
    }

    pub(super) fn write(&self, html: &mut String) {
        // A frame that scrolls has to be reachable by keyboard.
        let class = if self.rows.len() <= SHORT { "table short" } else { "table" };
        let _ = write!(html, "<div class=\"{class}\" tabindex=\"0\">\n<table>\n");
        let _ = writeln!(html, "<caption>{}</caption>\n<thead><tr>", inline(&self.caption));
        let is_number = |column: usize| {
            !self.rows.is_empty() && self.rows.iter().all(|row| row.get(column).is_some_and(|c| c.is_number))
        };
        for (column, words) in self.head.iter().enumerate() {
            let class = if is_number(column) { " class=\"number\"" } else { "" };
            let _ = write!(html, "<th scope=\"col\"{class}>{}</th>", inline(words));
        }
        html.push_str("</tr></thead>\n<tbody>\n");
        for row in &self.rows {
            html.push_str("<tr>");
            for (column, cell) in row.iter().enumerate() {
                let (open, close) = if column == 0 { ("th scope=\"row\"", "th") } else { ("td", "td") };
                let class = if cell.is_number { " class=\"number\"" } else { "" };
                let _ = write!(html, "<{open}{class}>");
                if let Some(stripe) = cell.stripe {
                    let colour = stripe.colour();
                    let _ = write!(html, "<span class=\"stripe\" style=\"background:{colour}\"></span>");
                }
                let words = inline(&cell.words);
                match &cell.sign {
                    Some((sign, tone)) => {
                        let _ = write!(
                            html,
                            "<span class=\"mark\"><span class=\"sign {}\" aria-hidden=\"true\">{}</span> {words}</span></{close}>",
                            tone.class(),
                            inline(sign)
                        );
                    }
                    None => {
                        let _ = write!(html, "{words}</{close}>");
                    }
                }
            }
            html.push_str("</tr>\n");
        }
        html.push_str("</tbody>\n</table>\n</div>\n");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_and_columns_name_themselves_to_a_reader_of_cells() {
        let table = Table::new("Times", ["effect", "ms"]).with([Cell::text("tint"), Cell::number("0.2")]);
        let mut html = String::new();
        table.write(&mut html);
        assert!(html.contains("<caption>Times</caption>"));
        assert!(html.contains("<th scope=\"col\">effect</th><th scope=\"col\" class=\"number\">ms</th>"));
        assert!(html.contains("<th scope=\"row\">tint</th><td class=\"number\">0.2</td>"));
    }

    #[test]
    fn a_sign_never_stands_without_words() {
        let mut html = String::new();
        Table::new("t", ["a"]).with([Cell::marked("=", "always", Tone::Good)]).write(&mut html);
        assert!(html.contains("aria-hidden=\"true\">=</span> always"));
    }
}
