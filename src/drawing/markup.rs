//! Text as it stands in markup (HTML and SVG).

use crate::base::shown::shown;

/// Words for markup: what would be read as markup is escaped, what steers other words is written out, and what XML
/// 1.0 forbids besides is replaced.
pub fn escaped(words: &str) -> String {
    let mut text = String::with_capacity(words.len());
    for character in shown(words).chars() {
        match character {
            '&' => text.push_str("&amp;"),
            '<' => text.push_str("&lt;"),
            '>' => text.push_str("&gt;"),
            '"' => text.push_str("&quot;"),
            '\'' => text.push_str("&#39;"),
            // XML 1.0, section 2.2: neither of these two.
            '\u{fffe}' | '\u{ffff}' => text.push('\u{fffd}'),
            _ => text.push(character),
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_never_become_markup() {
        assert_eq!(
            escaped("<b title=\"a\" id='b'>&amp;\u{8}é"),
            "&lt;b title=&quot;a&quot; id=&#39;b&#39;&gt;&amp;amp;\\u0008é"
        );
    }
}
