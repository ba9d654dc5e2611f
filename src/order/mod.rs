//! Which orders of a chain can differ: proofs, order classes, and the tree of partial chains.
//!
//! Swapping neighbours that commute never changes the picture, so orders fall
//! into classes (Cartier and Foata 1969; Mazurkiewicz 1977). Each class has one
//! normal form; the normal forms are closed under taking prefixes, so that every
//! distinct partial chain is one node of a tree and is rendered once.

mod classes;
mod code;
mod conditions;
mod count;
mod families;
mod looks;
mod pairs;
mod pieces;
mod points;
mod proof;
mod rules;
mod sampled;
mod schedule;
mod tally;
mod tree;

pub use classes::{Class, Classes, LONGEST_IN_FULL, MOST_EFFECTS};
pub use code::{
    CodeError, CodeFault, LARGEST_MARK, Marks, free_mark, in_order, marks, rest_marks, write_marks,
};
pub use conditions::Condition;
pub use count::{grouped, orders_said};
pub use families::{EXPLAINED_ENOUGH, Families, Family, LEAST_SHARE, MOST_FAMILIES, Question, Share};
pub use looks::{Apart, LookLimits, Looks, MOST_LOOKS};
pub use pairs::{Pair, pairs};
pub use pieces::{PieceShares, Pieces};
pub use points::{Points, Weights};
pub use proof::{IndexMap, Premises, Proofs, Proving, Verdict};
pub use rules::{Fact, MOST_RULES, Rule, Rules};
pub use schedule::{Job, Round, Schedule};
pub use tally::{Explored, Extent, Sample, Tally};
pub use tree::{Node, Tree};
