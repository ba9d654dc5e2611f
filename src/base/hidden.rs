//! Characters that are not seen and change what is seen or meant, and what they are called.

/// Whether a character is not seen, but changes what is seen of others: control characters, those that turn the
/// direction of writing, those that end a line, and those without width that make two names look alike.
///
/// Unicode Technical Report 36, section 2.5 (bidirectional spoofing); UAX 9, section 2 (the controls); UTS 39,
/// section 3.1 and table 1 (default-ignorable characters are not for identifiers; which those are says
/// DerivedCoreProperties of the Unicode database, here from memory). The joiners U+200C and U+200D and the selectors of
/// variants are not among them: scripts need them, and [`is_hidden`] knows where.
pub fn steers(character: char) -> bool {
    character.is_control()
        || matches!(
            character,
            '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{115f}' | '\u{1160}' | '\u{17b4}' | '\u{17b5}' | '\u{180e}' | '\u{200b}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}'
                | '\u{2060}'..='\u{206f}' | '\u{3164}' | '\u{feff}' | '\u{ffa0}' | '\u{fff9}'..='\u{fffb}'
                | '\u{1bca0}'..='\u{1bca3}' | '\u{1d173}'..='\u{1d17a}' | '\u{e0000}'..='\u{e007f}'
        )
}

/// Whether a character is hidden after the one before it: it steers, or it joins or varies what cannot be: letters of the
/// Latin script, spaces and nothing, where it only makes two names look alike.
pub fn is_hidden(before: Option<char>, character: char) -> bool {
    let joins =
        matches!(character, '\u{200c}' | '\u{200d}' | '\u{fe00}'..='\u{fe0f}' | '\u{e0100}'..='\u{e01ef}');
    let is_latin = |c: char| c <= '\u{24f}' && c.is_alphabetic();
    steers(character) || (joins && before.is_none_or(|c| is_latin(c) || c.is_whitespace()))
}

/// The hidden characters of a text, from its beginning.
pub fn hidden(text: &str) -> impl Iterator<Item = char> {
    let mut before = None;
    text.chars().filter(move |&character| is_hidden(before.replace(character), character))
}

/// What a text holds that is not seen, in words: "holds a hidden character: U+202E, right-to-left override".
pub fn hidden_said(text: &str) -> Option<String> {
    const MOST: usize = 4;
    let mut kinds: Vec<char> = Vec::new();
    hidden(text).for_each(|character| {
        if !kinds.contains(&character) {
            kinds.push(character);
        }
    });
    let words: Vec<String> = kinds
        .iter()
        .take(MOST)
        .map(|&character| format!("U+{:04X}, {}", u32::from(character), called(character)))
        .collect();
    let more = match kinds.len().saturating_sub(MOST) {
        0 => String::new(),
        more => format!("; and {more} more"),
    };
    match hidden(text).count() {
        0 => None,
        1 => Some(format!("holds a hidden character: {}", words.concat())),
        count => Some(format!("holds {count} hidden characters: {}{more}", words.join("; "))),
    }
}

/// The name of a hidden character: that of UnicodeData.txt in small letters, and for control characters the one of
/// NameAliases.txt that people know.
fn called(character: char) -> &'static str {
    match character {
        '\0' => "null",
        '\u{8}' => "backspace",
        '\t' => "tab",
        '\n' => "line end",
        '\r' => "carriage return",
        '\u{1b}' => "escape",
        '\u{7f}' => "delete",
        '\u{85}' => "next line",
        '\u{ad}' => "soft hyphen",
        '\u{34f}' => "combining grapheme joiner",
        '\u{61c}' => "Arabic letter mark",
        '\u{115f}' => "Hangul choseong filler",
        '\u{1160}' => "Hangul jungseong filler",
        '\u{17b4}' => "Khmer vowel inherent aq",
        '\u{17b5}' => "Khmer vowel inherent aa",
        '\u{180e}' => "Mongolian vowel separator",
        '\u{200b}' => "zero width space",
        '\u{200c}' => "zero width non-joiner",
        '\u{200d}' => "zero width joiner",
        '\u{200e}' => "left-to-right mark",
        '\u{200f}' => "right-to-left mark",
        '\u{2028}' => "line separator",
        '\u{2029}' => "paragraph separator",
        '\u{202a}' => "left-to-right embedding",
        '\u{202b}' => "right-to-left embedding",
        '\u{202c}' => "pop directional formatting",
        '\u{202d}' => "left-to-right override",
        '\u{202e}' => "right-to-left override",
        '\u{2060}' => "word joiner",
        '\u{2061}' => "function application",
        '\u{2062}' => "invisible times",
        '\u{2063}' => "invisible separator",
        '\u{2064}' => "invisible plus",
        '\u{2066}' => "left-to-right isolate",
        '\u{2067}' => "right-to-left isolate",
        '\u{2068}' => "first strong isolate",
        '\u{2069}' => "pop directional isolate",
        '\u{206a}' => "inhibit symmetric swapping",
        '\u{206b}' => "activate symmetric swapping",
        '\u{206c}' => "inhibit Arabic form shaping",
        '\u{206d}' => "activate Arabic form shaping",
        '\u{206e}' => "national digit shapes",
        '\u{206f}' => "nominal digit shapes",
        '\u{3164}' => "Hangul filler",
        '\u{feff}' => "zero width no-break space",
        '\u{ffa0}' => "halfwidth Hangul filler",
        '\u{fff9}' => "interlinear annotation anchor",
        '\u{fffa}' => "interlinear annotation separator",
        '\u{fffb}' => "interlinear annotation terminator",
        '\u{fe00}'..='\u{fe0f}' | '\u{e0100}'..='\u{e01ef}' => "variation selector",
        '\u{1bca0}'..='\u{1bca3}' => "shorthand format control",
        '\u{1d173}'..='\u{1d17a}' => "musical format control",
        '\u{e0000}'..='\u{e007f}' => "tag character",
        character if character.is_control() => "control character",
        _ => "character without ink",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_text_hides_is_told_by_code_point_and_name() {
        // Names: `unicodedata.name` of Python 3, which reads UnicodeData.txt of Unicode 14.
        let names = [
            ('\u{ad}', "SOFT HYPHEN"),
            ('\u{61c}', "ARABIC LETTER MARK"),
            ('\u{180e}', "MONGOLIAN VOWEL SEPARATOR"),
            ('\u{200b}', "ZERO WIDTH SPACE"),
            ('\u{200e}', "LEFT-TO-RIGHT MARK"),
            ('\u{200f}', "RIGHT-TO-LEFT MARK"),
            ('\u{202a}', "LEFT-TO-RIGHT EMBEDDING"),
            ('\u{202b}', "RIGHT-TO-LEFT EMBEDDING"),
            ('\u{202c}', "POP DIRECTIONAL FORMATTING"),
            ('\u{202d}', "LEFT-TO-RIGHT OVERRIDE"),
            ('\u{202e}', "RIGHT-TO-LEFT OVERRIDE"),
            ('\u{2060}', "WORD JOINER"),
            ('\u{2066}', "LEFT-TO-RIGHT ISOLATE"),
            ('\u{2067}', "RIGHT-TO-LEFT ISOLATE"),
            ('\u{2068}', "FIRST STRONG ISOLATE"),
            ('\u{2069}', "POP DIRECTIONAL ISOLATE"),
            ('\u{3164}', "HANGUL FILLER"),
            ('\u{feff}', "ZERO WIDTH NO-BREAK SPACE"),
            ('\u{fffb}', "INTERLINEAR ANNOTATION TERMINATOR"),
        ];
        for (character, name) in names {
            let told = hidden_said(&format!("quay {character}4")).unwrap();
            let right = format!("holds a hidden character: U+{:04X}, {name}", u32::from(character));
            assert_eq!(told.to_lowercase(), right.to_lowercase());
        }
        assert_eq!(hidden_said("quay 4, Überfahrt, 夜の船"), None);
        assert_eq!(
            hidden_said("a\u{202e}b\u{1b}c\u{202e}").unwrap(),
            "holds 3 hidden characters: U+202E, right-to-left override; U+001B, escape"
        );
        let many: String = "\u{1}\u{2}\u{3}\u{4}\u{5}\u{6}".into();
        assert!(hidden_said(&many).unwrap().ends_with("U+0004, control character; and 2 more"));
    }

    #[test]
    fn a_joiner_is_hidden_where_nothing_can_be_joined() {
        for text in
            ["qu\u{200d}ay", "\u{200c}quay", "quay \u{200d}4", "qua\u{fe0f}y", "\u{e9}\u{200c}t\u{e9}"]
        {
            assert_eq!(hidden(text).count(), 1, "{text:?}");
        }
        // Persian, a person with an aeroplane, a digit on a key, a snowman.
        for text in ["میناء\u{200c}ها", "👩\u{200d}✈\u{fe0f}", "4\u{fe0f}\u{20e3}", "\u{2603}\u{fe0f}"]
        {
            assert_eq!(hidden(text).count(), 0, "{text:?}");
        }
    }
}
