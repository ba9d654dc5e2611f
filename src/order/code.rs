//! Order codes: an order as the row of its effects' marks, first applied first.

use thiserror::Error;

use crate::base::place::shortened;
use crate::show::chain::{Chain, EffectUse};

/// The marks of a chain's effects, by their places: what order codes are written with and read by.
///
/// A code is `21534`; where a mark has two digits, the marks are set apart by dots: `2.1.12`.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Marks(Vec<u32>);

/// The largest mark: two digits stand in a chip.
pub const LARGEST_MARK: u32 = 99;

/// The marks of a chain: what is written on an effect, otherwise its place, from 1. No two are alike.
pub fn marks(chain: &[EffectUse]) -> Marks {
    Marks(crate::show::marks::of(chain))
}

/// Writes its mark on every effect, so that it goes along wherever the effect goes.
pub fn write_marks(chain: &mut [EffectUse]) {
    let marks = marks(chain);
    chain.iter_mut().zip(&marks.0).for_each(|(used, &mark)| used.mark = Some(mark));
}

/// Takes off what is written where it says no more than the effect's place does.
pub fn rest_marks(chain: &mut [EffectUse]) {
    for (used, place) in chain.iter_mut().zip(1..) {
        used.mark = used.mark.filter(|&mark| mark != place);
    }
}

/// The lowest mark that no effect has; marks are written on all of them.
pub fn free_mark(chain: &[EffectUse]) -> Option<u32> {
    (1..).find(|&mark| chain.iter().all(|used| used.mark != Some(mark)))
}

/// The chain's effects in another order of their places, each with its mark.
pub fn in_order(chain: &[EffectUse], order: &[usize]) -> Chain {
    let mut marked = chain.to_vec();
    write_marks(&mut marked);
    let mut ordered: Chain = order.iter().filter_map(|&place| marked.get(place).cloned()).collect();
    rest_marks(&mut ordered);
    ordered
}

/// Why a text is no code of a chain.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{fault}; {wanted}")]
pub struct CodeError {
    /// What is wrong.
    pub fault: CodeFault,
    /// What would be right, with an example.
    pub wanted: String,
}

/// What is wrong with a code.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum CodeFault {
    /// Neither a digit nor a dot, or no mark where one is due.
    #[error("`{0}` is no row of marks")]
    NoCode(String),
    /// Marks of two digits, and no dots.
    #[error("marks of two digits are set apart by dots")]
    NoDots,
    /// A mark that no effect has.
    #[error("no effect has the mark {0}")]
    Unknown(String),
    /// A mark that stands more than once.
    #[error("the mark {0} stands twice")]
    Twice(u32),
    /// Marks that do not stand at all.
    #[error("{}", match &.0[..] {
        [one] => format!("the mark {one} is missing"),
        many => format!("the marks {} are missing", row(many)),
    })]
    Missing(Vec<u32>),
}

impl Marks {
    /// The mark of the effect at a place of the chain, from 0.
    pub fn of(&self, place: usize) -> u32 {
        self.0[place]
    }

    /// How many effects.
    pub fn count(&self) -> usize {
        self.0.len()
    }

    /// The code of an order: places of the chain, first applied first.
    pub fn code(&self, order: &[usize]) -> String {
        let marks: Vec<String> = order.iter().map(|&place| self.0[place].to_string()).collect();
        marks.join(if self.is_dotted() { "." } else { "" })
    }

    /// The code of the chain's own order.
    pub fn own(&self) -> String {
        self.code(&(0..self.0.len()).collect::<Vec<_>>())
    }

    /// The order that a code names: places of the chain, first applied first.
    ///
    /// # Errors
    /// [`CodeError`] unless every mark of the chain stands in it once.
    pub fn order(&self, code: &str) -> Result<Vec<usize>, CodeError> {
        self.read(code.trim()).map_err(|fault| CodeError { fault, wanted: self.wanted() })
    }

    /// What a code of this chain is, with an example.
    pub fn wanted(&self) -> String {
        let (count, all) = (self.0.len(), row(&self.0));
        let mut other: Vec<usize> = (0..count).collect();
        if count > 1 {
            other.swap(0, 1);
        }
        match count {
            0 => "the chain has no effect, so that no order of it has a code".to_owned(),
            1 => format!("an order is named by its code, and this chain has one effect: {all}"),
            _ => format!(
                "an order is named by its code: the {count} marks of the effects ({all}), each once, the first applied first, such as {}",
                self.code(&other)
            ),
        }
    }

    /// The place of the effect with this mark.
    pub fn place(&self, mark: u32) -> Option<usize> {
        self.0.iter().position(|&known| known == mark)
    }

    /// Whether codes of this chain need dots.
    fn is_dotted(&self) -> bool {
        self.0.iter().any(|&mark| mark > 9)
    }

    fn read(&self, code: &str) -> Result<Vec<usize>, CodeFault> {
        let is_row = |word: &str| !word.is_empty() && word.bytes().all(|byte| byte.is_ascii_digit());
        let words: Vec<&str> = if code.contains('.') || self.0.len() == 1 {
            code.split('.').collect()
        } else {
            code.split_inclusive(|_| true).collect()
        };
        if words.is_empty() || !words.iter().all(|word| is_row(word)) {
            return Err(CodeFault::NoCode(shortened(code)));
        }
        if self.is_dotted() && !code.contains('.') && self.0.len() > 1 {
            return Err(CodeFault::NoDots);
        }
        let mut order = Vec::with_capacity(self.0.len());
        for word in words {
            let place = word.parse().ok().and_then(|mark| self.place(mark));
            let place = place.ok_or_else(|| CodeFault::Unknown(shortened(word)))?;
            if order.contains(&place) {
                return Err(CodeFault::Twice(self.0[place]));
            }
            order.push(place);
        }
        let missing = (0..self.0.len()).filter(|place| !order.contains(place));
        let missing: Vec<u32> = missing.map(|place| self.0[place]).collect();
        if missing.is_empty() { Ok(order) } else { Err(CodeFault::Missing(missing)) }
    }
}

/// "1 to 5" for marks that follow each other, otherwise each of them.
fn row(marks: &[u32]) -> String {
    match marks {
        [first, .., last] if marks.len() > 2 && marks.windows(2).all(|pair| pair[1] == pair[0] + 1) => {
            format!("{first} to {last}")
        }
        _ => {
            let words: Vec<String> = marks.iter().map(u32::to_string).collect();
            match words.split_last() {
                Some((last, others)) if !others.is_empty() => format!("{} and {last}", others.join(", ")),
                _ => words.concat(),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(marks: &[u32]) -> Marks {
        Marks(marks.to_vec())
    }

    #[test]
    fn a_code_reads_back_as_the_order_that_it_was_written_from() {
        for marks in [&[1, 2, 3, 4, 5][..], &[7, 2, 9], &[1], &[4, 12, 3], &[10, 11], &[12]] {
            let marks = of(marks);
            let count = marks.0.len();
            for turn in 0..count {
                let order: Vec<usize> = (0..count).map(|at| (at + turn) % count).rev().collect();
                assert_eq!(marks.order(&marks.code(&order)), Ok(order), "{marks:?}");
            }
        }
        assert_eq!(of(&[1, 2, 3, 4, 5]).code(&[1, 0, 4, 2, 3]), "21534");
        let long = of(&(1..=12).collect::<Vec<_>>());
        assert_eq!(long.code(&[1, 0, 11, 2, 3, 4, 5, 6, 7, 8, 9, 10]), "2.1.12.3.4.5.6.7.8.9.10.11");
        // Dots are never wrong.
        assert_eq!(of(&[1, 2, 3]).order(" 3.1.2 "), Ok(vec![2, 0, 1]));
    }

    #[test]
    fn a_wrong_code_is_refused_with_what_is_wrong_and_what_is_wanted() {
        let five = of(&[1, 2, 3, 4, 5]);
        let fault = |marks: &Marks, code: &str| marks.order(code).unwrap_err().fault;
        assert_eq!(fault(&five, "2153"), CodeFault::Missing(vec![4]));
        assert_eq!(fault(&five, "25"), CodeFault::Missing(vec![1, 3, 4]));
        assert_eq!(fault(&five, "21544"), CodeFault::Twice(4));
        assert_eq!(fault(&five, "215346"), CodeFault::Unknown("6".to_owned()));
        assert_eq!(fault(&five, "33"), CodeFault::Twice(3));
        assert_eq!(fault(&five, "2.1.5.3.44"), CodeFault::Unknown("44".to_owned()));
        assert_eq!(
            fault(&five, "2.1.99999999999999999999"),
            CodeFault::Unknown("99999999999999999999".to_owned())
        );
        for code in ["", " ", ".", "1..2", "2153x", "-1", "+2", "1 2", "\u{664}", "21534."] {
            assert!(matches!(fault(&five, code), CodeFault::NoCode(_)), "{code}");
        }
        let long = of(&(1..=12).collect::<Vec<_>>());
        assert_eq!(fault(&long, "123456789101112"), CodeFault::NoDots);
        assert_eq!(
            five.order("7").unwrap_err().to_string(),
            "no effect has the mark 7; an order is named by its code: the 5 marks of the effects (1 to 5), each once, the first applied first, such as 21345"
        );
        assert_eq!(
            of(&[7, 2]).order("7").unwrap_err().to_string(),
            "the mark 2 is missing; an order is named by its code: the 2 marks of the effects (7 and 2), each once, the first applied first, such as 27"
        );
        assert!(of(&[]).order("1").unwrap_err().to_string().contains("no effect, so that no order"));
    }
}
