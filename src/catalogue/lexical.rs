//! What a shader file may be before it is parsed: how long, how deep, and how much once it is written out.
//!
//! A parser, a checker and a driver's compiler all go down into what stands inside something else by calling
//! themselves, each on a stack of its own size. A text that goes too deep brings the whole program down with it, and
//! one whose functions call each other twice at every step takes memory without end. Both can be seen in the text.
//!
//! The depth that is counted is never less than that of the tree that a parser makes of the text; it may be more.

use std::collections::HashMap;

use super::CatalogueError;
use crate::base::place::Place;

/// Largest file of an effect, in bytes.
pub const MOST_FILE_BYTES: u64 = 64 << 10;
/// Brackets, blocks, `else`s, type arguments and signs before a value that may stand inside each other.
pub const MOST_NESTED: usize = 48;
/// Signs that may stand in one expression or statement, those inside its deepest brackets included.
pub const MOST_IN_A_ROW: usize = 256;
/// Functions, constants and types of which each uses the next.
pub const MOST_IN_TURN: usize = 48;
/// Words of a function, once what it uses is written out in place of each name.
pub const MOST_WRITTEN_OUT: u64 = 65_536;

/// Names of WGSL's own types, which a declaration would hide from the rest of the shader.
const TYPES: [&str; 27] = [
    "bool", "f16", "f32", "i32", "u32", "array", "atomic", "ptr", "vec2", "vec3", "vec4", "vec2f", "vec3f",
    "vec4f", "vec2i", "vec3i", "vec4i", "vec2u", "vec3u", "vec4u", "mat2x2", "mat3x3", "mat4x4", "mat2x2f",
    "mat3x3f", "mat4x4f", "sampler",
];

/// Refuses a file that is larger than an effect may be.
pub(super) fn check_size(origin: &str, source: &str) -> Result<(), CatalogueError> {
    if source.len() as u64 > MOST_FILE_BYTES { Err(too_large(origin)) } else { Ok(()) }
}

pub(super) fn too_large(origin: &str) -> CatalogueError {
    CatalogueError::Code {
        place: Place { file: origin.to_owned(), line: 1, column: 1 },
        message: format!("the file is larger than {} KiB; an effect takes a few", MOST_FILE_BYTES >> 10),
    }
}

/// Refuses a text that is too deep, or grows too much, to be handed to a parser.
///
/// # Errors
/// [`CatalogueError::Code`] with the place from which on it is too much.
pub(super) fn check(origin: &str, source: &str) -> Result<(), CatalogueError> {
    let mut reader = Reader::default();
    reader.read(source).and_then(|()| reader.declared.check()).map_err(|(offset, message)| {
        CatalogueError::Code { place: Place::of_offset(origin, source, offset), message }
    })
}

type Fault = (usize, String);

/// A word, a number or one sign, and where it begins.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Token<'a> {
    Word(&'a str),
    Number,
    Sign(char),
}

/// Where WGSL ends a line comment (WGSL 3.5, line breaks).
fn ends_line(c: char) -> bool {
    matches!(c, '\n'..='\r' | '\u{85}' | '\u{2028}' | '\u{2029}')
}

fn tokens(source: &str) -> Vec<(Token<'_>, usize)> {
    let mut found = Vec::new();
    let mut at = 0;
    while let Some(first) = source[at..].chars().next() {
        let rest = &source[at..];
        let length_while = |is: &dyn Fn(char) -> bool| rest.find(|c| !is(c)).unwrap_or(rest.len());
        let in_word = |c: char| c.is_alphanumeric() || c == '_';
        let length = if rest.starts_with("//") {
            rest.find(ends_line).unwrap_or(rest.len())
        } else if rest.starts_with("/*") {
            block_comment(rest)
        } else if first.is_ascii_digit() {
            // One dot may stand in a number; what follows it is a digit or a letter of its kind.
            let whole = length_while(&in_word);
            let after = rest[whole..]
                .strip_prefix('.')
                .map_or(0, |part| 1 + part.find(|c| !in_word(c)).unwrap_or(part.len()));
            found.push((Token::Number, at));
            whole + after
        } else if in_word(first) {
            let length = length_while(&in_word);
            found.push((Token::Word(&rest[..length]), at));
            length
        } else {
            if !first.is_whitespace() {
                found.push((Token::Sign(first), at));
            }
            first.len_utf8()
        };
        at += length;
    }
    found
}

/// Bytes of the comment at the start of a text; comments may stand in comments.
fn block_comment(text: &str) -> usize {
    let mut depth = 1;
    let mut before = None;
    for (at, c) in text.char_indices().skip(2) {
        match (before, c) {
            (Some('*'), '/') => {
                depth -= 1;
                before = None;
                if depth == 0 {
                    return at + 1;
                }
            }
            (Some('/'), '*') => {
                depth += 1;
                before = None;
            }
            _ => before = Some(c),
        }
    }
    text.len()
}

/// What stands between two brackets, or outside all.
#[derive(Debug, Default)]
struct Frame<'a> {
    /// Signs of the part that is being read: a statement, or an argument.
    signs: usize,
    /// The deepest of the brackets in it.
    inside: usize,
    /// The deepest part before it.
    deepest: usize,
    /// `<` that may begin type arguments and have not been closed.
    angles: usize,
    /// Signs that stand before a value, such as `-` and `!`.
    before_value: usize,
    elses: usize,
    /// Variables named in it, which hide what has the same name.
    hidden: Vec<&'a str>,
    hides_next: Option<&'a str>,
}

impl<'a> Frame<'a> {
    /// Ends a statement or an argument; gives the name that is hidden from now on.
    fn ends_part(&mut self) -> Option<&'a str> {
        self.deepest = self.deepest.max(self.signs + self.inside);
        (self.signs, self.inside, self.angles, self.before_value, self.elses) = (0, 0, 0, 0, 0);
        let hides = self.hides_next.take();
        self.hidden.extend(hides);
        hides
    }

    fn levels(&self) -> usize {
        self.angles + self.before_value + self.elses
    }
}

#[derive(Default)]
struct Reader<'a> {
    frames: Vec<Frame<'a>>,
    /// How many variables of each name hide what the file calls so.
    hidden: HashMap<&'a str, usize>,
    declared: Declared<'a>,
}

impl<'a> Reader<'a> {
    fn read(&mut self, source: &'a str) -> Result<(), Fault> {
        let tokens = tokens(source);
        self.frames.push(Frame::default());
        let mut before = Token::Sign(';');
        let mut block_ended = false;
        for (nth, &(token, at)) in tokens.iter().enumerate() {
            let next = tokens.get(nth + 1).map(|&(token, _)| token);
            // A block ends its statement, unless that goes on with `else`.
            if std::mem::take(&mut block_ended) && token != Token::Word("else") {
                self.ends_statement();
            }
            match token {
                Token::Word(word) => self.word(word, at, before, next),
                Token::Number => self.declared.count(),
                Token::Sign(sign) => {
                    self.declared.count();
                    let adjoins = nth > 0 && tokens[nth - 1].1 + 1 == at;
                    self.sign(sign, before, next, adjoins);
                    block_ended = sign == '}';
                }
            }
            self.check(at)?;
            before = token;
        }
        Ok(())
    }

    fn check(&self, at: usize) -> Result<(), Fault> {
        let nested = self.frames.len() - 1 + self.frames.iter().map(Frame::levels).sum::<usize>();
        if nested > MOST_NESTED {
            return Err((
                at,
                format!(
                    "brackets, blocks and signs stand more than {MOST_NESTED} deep inside each other here; hold parts in a `let`, move them to functions of their own, or choose with `switch`"
                ),
            ));
        }
        let last = self.frames.last().map_or(0, |frame| frame.signs + frame.inside);
        if last > MOST_IN_A_ROW {
            return Err((
                at,
                format!(
                    "this goes on with more than {MOST_IN_A_ROW} signs in one expression; hold parts of it in a `let`, or count with a loop"
                ),
            ));
        }
        Ok(())
    }

    fn frame(&mut self) -> &mut Frame<'a> {
        if self.frames.is_empty() {
            self.frames.push(Frame::default());
        }
        let last = self.frames.len() - 1;
        &mut self.frames[last]
    }

    fn ends_part(&mut self) {
        if let Some(hides) = self.frame().ends_part() {
            *self.hidden.entry(hides).or_default() += 1;
        }
    }

    fn ends_statement(&mut self) {
        self.ends_part();
        self.declared.ends_statement(self.frames.len());
    }

    /// Ends what stands between two brackets; one too many is the parser's to tell.
    fn closes(&mut self, sign: char) {
        if sign == '}' {
            self.ends_statement();
        } else {
            self.ends_part();
        }
        if self.frames.len() > 1
            && let Some(frame) = self.frames.pop()
        {
            let outer = self.frame();
            outer.inside = outer.inside.max(1 + frame.deepest);
            if sign == ')' && self.frames.len() == 1 {
                // The arguments of a function are named before its block.
                self.frame().hidden.extend(frame.hidden);
            } else {
                self.shows(&frame.hidden);
            }
        }
        self.declared.ends_block(self.frames.len());
        if sign == '}' && self.frames.len() == 1 {
            let hidden = std::mem::take(&mut self.frame().hidden);
            self.shows(&hidden);
            self.declared.ends();
        }
    }

    fn shows(&mut self, names: &[&'a str]) {
        for name in names {
            if let Some(count) = self.hidden.get_mut(name) {
                *count -= 1;
            }
        }
    }

    fn word(&mut self, word: &'a str, at: usize, before: Token<'_>, next: Option<Token<'a>>) {
        let depth = self.frames.len();
        let is_outside = depth == 1;
        match word {
            "else" => {
                let frame = self.frame();
                frame.elses += 1;
                frame.signs += 1;
            }
            "fn" | "struct" | "alias" | "override" if is_outside => self.declared.begins(depth),
            "const" => self.declared.begins(depth),
            "let" | "var" if !is_outside => {
                if let Some(Token::Word(name)) = next {
                    self.frame().hides_next = Some(name);
                }
            }
            _ if self.declared.is_named(word, at) => {}
            // An argument's own name, or a member's.
            _ if next == Some(Token::Sign(':')) => self.frame().hides_next = Some(word),
            _ => {
                let is_call = next == Some(Token::Sign('('));
                let is_hidden = || self.hidden.get(word).is_some_and(|&count| count > 0);
                if before != Token::Sign('.') && (is_call || !is_hidden()) {
                    self.declared.uses(word);
                }
            }
        }
        self.declared.count();
    }

    fn sign(&mut self, sign: char, before: Token<'_>, next: Option<Token<'_>>, adjoins: bool) {
        let after_value = match before {
            Token::Word(word) => !matches!(word, "return" | "case" | "if" | "while"),
            Token::Number => true,
            Token::Sign(before) => matches!(before, ')' | ']'),
        };
        match sign {
            '(' | '[' | '{' => {
                let frame = self.frame();
                frame.signs += 1;
                if sign == '{' {
                    // No type arguments go on into a block.
                    frame.angles = 0;
                }
                self.frames.push(Frame::default());
            }
            ')' | ']' | '}' => self.closes(sign),
            ';' => self.ends_statement(),
            ',' => {
                let angles = self.frame().angles;
                self.ends_part();
                let frame = self.frame();
                (frame.angles, frame.signs) = (angles, angles);
            }
            '<' => {
                let frame = self.frame();
                frame.signs += 1;
                frame.before_value = 0;
                let is_alone = !matches!(next, Some(Token::Sign('<' | '=')));
                if matches!(before, Token::Word(_)) && is_alone {
                    frame.angles += 1;
                }
            }
            '>' => {
                let frame = self.frame();
                frame.signs += 1;
                frame.before_value = 0;
                frame.angles = frame.angles.saturating_sub(1);
            }
            '-' | '!' | '~' | '*' | '&' if !after_value => {
                let frame = self.frame();
                let is_second = adjoins && before == Token::Sign('&') && sign == '&';
                frame.signs += usize::from(!is_second);
                if is_second {
                    // `&&` comes between two values, and ends what may have been type arguments.
                    (frame.before_value, frame.angles) = (0, 0);
                } else {
                    frame.before_value += 1;
                }
            }
            ':' => self.frame().angles = 0,
            '.' | '@' => self.frame().signs += 1,
            _ => {
                let frame = self.frame();
                let is_second = adjoins
                    && matches!(
                        before,
                        Token::Sign('=' | '<' | '>' | '!' | '+' | '-' | '*' | '/' | '|' | '%' | '^' | '&')
                    );
                if sign == '|' && is_second || sign == '=' && !is_second {
                    frame.angles = 0;
                }
                frame.signs += usize::from(!(is_second && matches!(sign, '=' | '|')));
                frame.before_value = 0;
            }
        }
    }
}

/// A function, constant or type, with what it uses.
#[derive(Debug)]
struct Declaration<'a> {
    name: &'a str,
    at: usize,
    /// How many brackets are open around it.
    depth: usize,
    words: u64,
    uses: Vec<Use<'a>>,
}

#[derive(Debug, Clone, Copy)]
enum Use<'a> {
    /// A declaration inside a function, by its place.
    Local(usize),
    /// A declaration of the file, which may follow later.
    Outer(&'a str),
}

#[derive(Debug, Default)]
struct Declared<'a> {
    all: Vec<Declaration<'a>>,
    /// Those that are being read, the innermost last.
    open: Vec<usize>,
    /// Constants inside the function that is being read, the innermost of each name last.
    locals: HashMap<&'a str, Vec<usize>>,
    /// Their names, in the order in which they came.
    in_scope: Vec<&'a str>,
    names_next: Option<usize>,
}

impl<'a> Declared<'a> {
    fn begins(&mut self, depth: usize) {
        self.names_next = Some(depth);
    }

    /// Whether this word is the name that a declaration was waiting for.
    fn is_named(&mut self, name: &'a str, at: usize) -> bool {
        let Some(depth) = self.names_next.take() else { return false };
        self.open.push(self.all.len());
        self.all.push(Declaration { name, at, depth, words: 0, uses: Vec::new() });
        true
    }

    fn count(&mut self) {
        for &open in &self.open {
            self.all[open].words += 1;
        }
    }

    fn uses(&mut self, name: &'a str) {
        let local = self.locals.get(name).and_then(|of_name| of_name.last());
        let used = local.map_or(Use::Outer(name), |&local| Use::Local(local));
        // What a constant inside a function uses is the function's too.
        for &open in &self.open {
            self.all[open].uses.push(used);
        }
    }

    fn ends_statement(&mut self, depth: usize) {
        if depth == 1 {
            return self.ends();
        }
        while let Some(&open) = self.open.last()
            && self.all[open].depth >= depth
        {
            self.open.pop();
            let name = self.all[open].name;
            self.locals.entry(name).or_default().push(open);
            self.in_scope.push(name);
        }
    }

    /// Lets go of the constants of blocks that have ended; so many brackets are open still.
    fn ends_block(&mut self, depth: usize) {
        while let Some(name) = self.in_scope.last()
            && let Some(of_name) = self.locals.get_mut(name)
            && of_name.last().is_none_or(|&last| self.all[last].depth > depth)
        {
            of_name.pop();
            self.in_scope.pop();
        }
    }

    /// The end of a function or struct, or of a constant outside all functions.
    fn ends(&mut self) {
        self.open.clear();
        self.locals.clear();
        self.in_scope.clear();
    }

    /// Of each declaration how many stand one behind the other in it, and its words once written out.
    fn known(&self) -> Vec<Option<(usize, u64)>> {
        let outer: HashMap<&str, usize> = self
            .all
            .iter()
            .enumerate()
            .filter(|(_, declared)| declared.depth == 1)
            .map(|(at, declared)| (declared.name, at))
            .collect();
        let used = |used: &Use<'_>| match used {
            Use::Local(at) => Some(*at),
            Use::Outer(name) => outer.get(name).copied(),
        };
        let mut known: Vec<Option<(usize, u64)>> = vec![None; self.all.len()];
        let mut is_on_path = vec![false; self.all.len()];
        for start in 0..self.all.len() {
            // Depth first, with a stack of our own: a declaration, and how many of those that it uses are known.
            let mut path = vec![(start, 0)];
            while let Some((at, next)) = path.pop() {
                if known[at].is_some() {
                    continue;
                }
                is_on_path[at] = true;
                let declared = &self.all[at];
                let open = declared.uses[next..].iter().position(|one| {
                    used(one).is_some_and(|other| known[other].is_none() && !is_on_path[other])
                });
                if let Some(more) = open {
                    let next = next + more;
                    path.push((at, next));
                    path.extend(used(&declared.uses[next]).map(|other| (other, 0)));
                    continue;
                }
                is_on_path[at] = false;
                // What uses itself round a circle is not known by then, and is the parser's to tell.
                let parts = declared.uses.iter().filter_map(used).filter_map(|other| known[other]);
                let (turns, words) = parts.fold((0, declared.words), |(turns, words), part| {
                    (turns.max(part.0), words.saturating_add(part.1))
                });
                known[at] = Some((turns + 1, words));
            }
        }
        known
    }

    /// Refuses what hides a type, what rests on too many others in turn, and what grows too much.
    fn check(&self) -> Result<(), Fault> {
        if let Some(hides) = self.all.iter().find(|declared| TYPES.contains(&declared.name)) {
            return Err((
                hides.at,
                format!("`{}` is the name of a type of WGSL; call yours something else", hides.name),
            ));
        }
        let known: Vec<(usize, u64)> = self.known().into_iter().map(Option::unwrap_or_default).collect();
        // Of several the one that is in all others.
        let over = |is_over: &dyn Fn(&(usize, u64)) -> bool| {
            let found = self.all.iter().zip(&known).filter(|(_, known)| is_over(known));
            found.min_by_key(|(_, known)| **known)
        };
        if let Some((declared, _)) = over(&|&(turns, _)| turns > MOST_IN_TURN) {
            return Err((
                declared.at,
                format!(
                    "`{}` is at the end of more than {MOST_IN_TURN} functions, constants and types that each use the next; let fewer stand between",
                    declared.name
                ),
            ));
        }
        if let Some((declared, (_, words))) = over(&|&(_, words)| words > MOST_WRITTEN_OUT) {
            return Err((
                declared.at,
                format!(
                    "`{}` comes to {words} words once everything that it uses is written out in place of its name; the most is {MOST_WRITTEN_OUT}: call functions fewer times, or in a loop",
                    declared.name
                ),
            ));
        }
        Ok(())
    }
}
