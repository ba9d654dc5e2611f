//! How long a shader can take for one texel: every loop must end after a count that the file itself shows, and
//! nothing that it keeps may be large.
//!
//! Recursion is no part of WGSL, and what calls write out is bounded before (`lexical.rs`), so that loops and types
//! are all that can grow. A loop counts as bounded where a
//! whole number that only ever steps one way is compared with a limit at the head of the loop, and the limit
//! follows from constants and from the ranges of settings. Anything else may be right too, but cannot be seen to be.

mod ranges;

use std::cell::Cell;
use std::collections::{HashMap, HashSet};

use naga::{
    BinaryOperator, Block, Expression, Function, Handle, Literal, LocalVariable, Module, ScalarKind, Span,
    Statement, Type, TypeInner, UnaryOperator,
};

use super::Effect;
use ranges::{Range, hull};

/// Turns of loops that one texel may take, those of loops within loops multiplied.
pub const MOST_TURNS: f64 = 16_384.0;
/// Bytes that one array may take.
pub const MOST_ARRAY_BYTES: u32 = 4096;
/// Bytes that one value, or the variables of one function together, may take.
const MOST_LOCAL_BYTES: u32 = 16_384;
/// Types that may stand inside each other.
const MOST_TYPES_NESTED: u32 = 16;
/// Expressions that are looked at for one loop; a limit that takes more to work out cannot be seen.
const MOST_LOOKS: u32 = 20_000;
/// Deepest expression that is followed.
const DEEPEST: u32 = 24;

/// What is wrong, and at which byte of the file.
pub(super) type Unbounded = (usize, String);

/// Checks every function that the effect's own file declares.
pub(super) fn check(effect: &Effect, module: &Module) -> Result<(), Unbounded> {
    check_types(effect, module)?;
    let mut turns: Vec<(Handle<Function>, f64)> = Vec::new();
    // Functions stand in the order in which they call each other: what is called stands before its caller.
    for (handle, function) in module.functions.iter() {
        let starts_at = module.functions.get_span(handle).to_range().map_or(0, |range| range.start);
        let walk = Walk::of(effect, module, function, &turns);
        let own = walk.turns(&function.body)?;
        if own > MOST_TURNS && starts_at < effect.source.len() {
            let name = function.name.as_deref().unwrap_or("?");
            return Err((
                starts_at,
                format!(
                    "`{name}` may take {own} turns of its loops for one texel; the most is {MOST_TURNS}: lower the limits of its loops, or the ranges of the settings that they follow from"
                ),
            ));
        }
        turns.push((handle, own));
    }
    Ok(())
}

fn check_types(effect: &Effect, module: &Module) -> Result<(), Unbounded> {
    let layouts = module.to_ctx();
    // A type stands behind those that it is made of.
    let mut depths: HashMap<Handle<Type>, u32> = HashMap::new();
    for (handle, ty) in module.types.iter() {
        let depth_of = |part: Handle<Type>| depths.get(&part).copied().unwrap_or_default();
        let depth = match &ty.inner {
            TypeInner::Array { base, .. } | TypeInner::Pointer { base, .. } => 1 + depth_of(*base),
            TypeInner::Struct { members, .. } => {
                1 + members.iter().map(|member| depth_of(member.ty)).max().unwrap_or_default()
            }
            _ => 0,
        };
        depths.insert(handle, depth);
        let at = module.types.get_span(handle).to_range().map_or(0, |range| range.start);
        let bytes = ty.inner.try_size(layouts).unwrap_or(u32::MAX);
        let is_array = matches!(ty.inner, TypeInner::Array { .. });
        if depth > MOST_TYPES_NESTED {
            return Err((
                at,
                format!(
                    "a value here is made of more than {MOST_TYPES_NESTED} arrays and structs inside each other"
                ),
            ));
        }
        if !is_array && bytes > MOST_LOCAL_BYTES {
            return Err((
                at,
                format!(
                    "a value of this type takes {bytes} bytes; the most is {MOST_LOCAL_BYTES}: keep fewer values"
                ),
            ));
        }
        let TypeInner::Array { size: naga::ArraySize::Constant(count), stride, .. } = ty.inner else {
            continue;
        };
        let bytes = stride.saturating_mul(count.get());
        let at = module.types.get_span(handle).to_range().map_or(0, |range| range.start);
        if bytes > MOST_ARRAY_BYTES {
            // An array type that several places name has the span of none of them.
            let at = if at == 0 { effect.source.find("array<").unwrap_or(0) } else { at };
            return Err((
                at,
                format!("this array takes {bytes} bytes; the most is {MOST_ARRAY_BYTES}: keep fewer values"),
            ));
        }
    }
    for (handle, function) in module.functions.iter() {
        let size = |variable: &LocalVariable| module.types[variable.ty].inner.size(layouts);
        let bytes =
            function.local_variables.iter().map(|(_, variable)| size(variable)).fold(0, u32::saturating_add);
        if bytes > MOST_LOCAL_BYTES {
            let at = module.functions.get_span(handle).to_range().map_or(0, |range| range.start);
            return Err((
                at,
                format!(
                    "the variables of this function take {bytes} bytes; the most is {MOST_LOCAL_BYTES}: keep fewer values"
                ),
            ));
        }
    }
    Ok(())
}

/// Which way a counter steps, and by how much at the least.
#[derive(Clone, Copy, PartialEq)]
enum Stride {
    Up(f64),
    Down(f64),
}

struct Walk<'a> {
    effect: &'a Effect,
    module: &'a Module,
    function: &'a Function,
    known: &'a [(Handle<Function>, f64)],
    /// Every value that is put into each variable anywhere.
    stored: HashMap<Handle<LocalVariable>, Vec<Handle<Expression>>>,
    /// Variables whose place is given to a function, so that they may be changed there.
    lent: HashSet<Handle<LocalVariable>>,
    /// Looks that are left for the loop in hand.
    looks: Cell<u32>,
}

impl<'a> Walk<'a> {
    fn of(
        effect: &'a Effect,
        module: &'a Module,
        function: &'a Function,
        known: &'a [(Handle<Function>, f64)],
    ) -> Self {
        let variable = |expression: Handle<Expression>| match function.expressions[expression] {
            Expression::LocalVariable(variable) => Some(variable),
            _ => None,
        };
        let mut stored: HashMap<_, Vec<_>> = HashMap::new();
        let mut lent = HashSet::new();
        each_statement(&function.body, &mut |statement| match statement {
            Statement::Store { pointer, value } => {
                if let Some(variable) = variable(*pointer) {
                    stored.entry(variable).or_default().push(*value);
                }
            }
            Statement::Call { arguments, .. } => {
                lent.extend(arguments.iter().filter_map(|&given| variable(given)));
            }
            _ => {}
        });
        Self { effect, module, function, known, stored, lent, looks: Cell::new(0) }
    }

    /// Turns of all loops that one run of this block may take, at least 1.
    fn turns(&self, block: &Block) -> Result<f64, Unbounded> {
        let mut sum = 1.0;
        for (statement, span) in block.span_iter() {
            sum += match statement {
                Statement::Loop { body, continuing, break_if } => {
                    let own = self.loop_turns(body, continuing, *break_if, *span)?;
                    own * (self.turns(body)?.max(self.turns(continuing)?))
                }
                Statement::Block(inner) => self.turns(inner)? - 1.0,
                Statement::If { accept, reject, .. } => self.turns(accept)?.max(self.turns(reject)?) - 1.0,
                Statement::Switch { cases, .. } => {
                    let mut most = 1.0_f64;
                    for case in cases {
                        most = most.max(self.turns(&case.body)?);
                    }
                    most - 1.0
                }
                Statement::Call { function, .. } => self
                    .known
                    .iter()
                    .find(|(known, _)| known == function)
                    .map_or(0.0, |(_, turns)| turns - 1.0),
                _ => 0.0,
            };
        }
        Ok(sum)
    }

    /// How many turns one loop takes at most.
    fn loop_turns(
        &self,
        body: &Block,
        continuing: &Block,
        break_if: Option<Handle<Expression>>,
        span: Span,
    ) -> Result<f64, Unbounded> {
        self.looks.set(MOST_LOOKS);
        let starts_at = span.to_range().map_or(0, |range| range.start);
        let mut tests = head_tests(self.function, body);
        // Tested after the step, at the end of a turn: one more than at the head.
        tests.extend(break_if.map(|condition| (condition, false)));
        let mut fewest = None;
        for (condition, must_be) in tests {
            if let Some(turns) = self.counted(condition, must_be, body, continuing) {
                fewest = Some(turns.min(fewest.unwrap_or(f64::INFINITY)));
            }
        }
        match fewest {
            Some(turns) if turns <= MOST_TURNS => Ok(turns),
            Some(turns) if turns.is_finite() && turns < 1e9 => Err((
                starts_at,
                format!("this loop may take {turns} turns; the most is {MOST_TURNS}: lower its limit, or the range of the setting that it follows from"),
            )),
            _ => Err((
                starts_at,
                "nothing here shows that this loop ends; count with a whole number that steps one way up to a limit made of constants and settings, such as `for (var i = 0; i < 16; i++)` or `i < min(count, 64)`"
                    .to_owned(),
            )),
        }
    }

    /// The most turns that a test of a counter against a limit allows, if it is one.
    fn counted(
        &self,
        condition: Handle<Expression>,
        must_be: bool,
        body: &Block,
        continuing: &Block,
    ) -> Option<f64> {
        let (op, left, right) = match &self.function.expressions[condition] {
            Expression::Binary { op, left, right } => (*op, *left, *right),
            Expression::Unary { op: UnaryOperator::LogicalNot, expr } => {
                return self.counted(*expr, !must_be, body, continuing);
            }
            _ => return None,
        };
        use BinaryOperator::{Greater, GreaterEqual, Less, LessEqual};
        let turned = |op| match op {
            Less => Some(Greater),
            LessEqual => Some(GreaterEqual),
            Greater => Some(Less),
            GreaterEqual => Some(LessEqual),
            _ => None,
        };
        let opposite = |op| match op {
            Less => Some(GreaterEqual),
            LessEqual => Some(Greater),
            Greater => Some(LessEqual),
            GreaterEqual => Some(Less),
            _ => None,
        };
        let op = if must_be { op } else { opposite(op)? };
        let (counter, op, limit) = match (self.counter(left), self.counter(right)) {
            (Some(counter), _) if self.step(counter, body, continuing).is_some() => (counter, op, right),
            (_, Some(counter)) => (counter, turned(op)?, left),
            _ => return None,
        };
        let step = self.step(counter, body, continuing)?;
        let start = self.start(counter, body, continuing);
        let limit = self.range(limit, 0);
        let turns = match (op, step) {
            (Less, Stride::Up(by)) => ((limit.1 - start.0) / by).ceil(),
            (LessEqual, Stride::Up(by)) => ((limit.1 - start.0) / by).floor() + 1.0,
            (Greater, Stride::Down(by)) => ((start.1 - limit.0) / by).ceil(),
            // Below nothing there is nothing for a number without a sign: it would begin again from above.
            (GreaterEqual, Stride::Down(_)) if self.is_unsigned(counter) && limit.0 < 1.0 => return None,
            (GreaterEqual, Stride::Down(by)) => ((start.1 - limit.0) / by).floor() + 1.0,
            _ => return None,
        };
        // One more where the test stands at the end of a turn.
        Some(turns.max(0.0) + 1.0)
    }

    fn counter(&self, expression: Handle<Expression>) -> Option<Handle<LocalVariable>> {
        let Expression::Load { pointer } = self.function.expressions[expression] else { return None };
        let Expression::LocalVariable(variable) = self.function.expressions[pointer] else { return None };
        let scalar = self.module.types[self.function.local_variables[variable].ty].inner.scalar()?;
        matches!(scalar.kind, ScalarKind::Sint | ScalarKind::Uint).then_some(variable)
    }

    fn is_unsigned(&self, variable: Handle<LocalVariable>) -> bool {
        let ty = self.function.local_variables[variable].ty;
        self.module.types[ty].inner.scalar().is_some_and(|scalar| scalar.kind == ScalarKind::Uint)
    }

    /// How the counter steps in every turn, if it does, and never the other way.
    fn step(&self, counter: Handle<LocalVariable>, body: &Block, continuing: &Block) -> Option<Stride> {
        if self.lent.contains(&counter) {
            return None;
        }
        let mut all = Vec::new();
        for block in [body, continuing] {
            each_store(block, &mut |pointer, value| {
                if self.is_variable(pointer, counter) {
                    all.push(self.step_of(counter, value));
                }
            });
        }
        let steps: Option<Vec<Stride>> = all.into_iter().collect();
        let steps = steps?;
        let first = *steps.first()?;
        let same_way = |step: &Stride| {
            matches!((step, first), (Stride::Up(_), Stride::Up(_)) | (Stride::Down(_), Stride::Down(_)))
        };
        if !steps.iter().all(same_way) {
            return None;
        }
        let is_sure = self.steps_surely(counter, continuing)
            || (!has_continue(body) && self.steps_surely(counter, body));
        let by = |step: &Stride| match step {
            Stride::Up(by) | Stride::Down(by) => *by,
        };
        let least = steps.iter().map(by).fold(f64::INFINITY, f64::min);
        is_sure.then_some(match first {
            Stride::Up(_) => Stride::Up(least),
            Stride::Down(_) => Stride::Down(least),
        })
    }

    /// Whether one of the statements that every turn comes by steps the counter.
    fn steps_surely(&self, counter: Handle<LocalVariable>, block: &Block) -> bool {
        block.iter().any(|statement| match statement {
            Statement::Store { pointer, value } => {
                self.is_variable(*pointer, counter) && self.step_of(counter, *value).is_some()
            }
            Statement::Block(inner) => self.steps_surely(counter, inner),
            _ => false,
        })
    }

    fn step_of(&self, counter: Handle<LocalVariable>, value: Handle<Expression>) -> Option<Stride> {
        let Expression::Binary { op, left, right } = self.function.expressions[value] else { return None };
        let is_counter = |expression| self.counter(expression) == Some(counter);
        let (by, op) = match op {
            BinaryOperator::Add if is_counter(left) => (self.range(right, 0), op),
            BinaryOperator::Add if is_counter(right) => (self.range(left, 0), op),
            BinaryOperator::Subtract if is_counter(left) => (self.range(right, 0), op),
            _ => return None,
        };
        // A step of thousands could leap over the end of what the number holds.
        if by.0 < 1.0 && by.1 > -1.0 || by.0.abs().max(by.1.abs()) > MOST_TURNS {
            return None;
        }
        let up = (op == BinaryOperator::Add) == (by.0 >= 1.0);
        let least = by.0.abs().min(by.1.abs());
        Some(if up { Stride::Up(least) } else { Stride::Down(least) })
    }

    /// Every value that is put into the counter outside this loop.
    fn start(&self, counter: Handle<LocalVariable>, body: &Block, continuing: &Block) -> Range {
        let mut within = Vec::new();
        for block in [body, continuing] {
            each_store(block, &mut |pointer, value| within.push((pointer, value)));
        }
        let mut found = self.first_value(counter, 0);
        each_store(&self.function.body, &mut |pointer, value| {
            if self.is_variable(pointer, counter) && !within.contains(&(pointer, value)) {
                found = hull(found, self.range(value, 0));
            }
        });
        found
    }

    fn is_variable(&self, pointer: Handle<Expression>, variable: Handle<LocalVariable>) -> bool {
        matches!(self.function.expressions[pointer], Expression::LocalVariable(known) if known == variable)
    }
}

/// What must hold at the head of a loop for its turn to go on: conditions, and whether each must be true.
fn head_tests(function: &Function, body: &Block) -> Vec<(Handle<Expression>, bool)> {
    let mut tests = Vec::new();
    let mut before: Option<&Statement> = None;
    for statement in body {
        match statement {
            Statement::Emit(_) => continue,
            Statement::If { condition, accept, reject } => {
                let leaves =
                    |block: &Block| matches!(block.last(), Some(Statement::Break | Statement::Return { .. }));
                match (leaves(accept), leaves(reject)) {
                    (false, true) => and_of(function, *condition, before, &mut tests),
                    (true, false) => tests.push((*condition, false)),
                    // `a && b` is worked out in two steps, the first of which is such a statement.
                    _ if before.is_none() && !has_continue(accept) && !has_continue(reject) => {}
                    _ => break,
                }
                before = Some(statement);
            }
            _ => break,
        }
    }
    tests
}

/// The parts of `a && b`, which is held in a variable of its own: `a` decides whether `b` is put there, or false.
fn and_of(
    function: &Function,
    condition: Handle<Expression>,
    before: Option<&Statement>,
    tests: &mut Vec<(Handle<Expression>, bool)>,
) {
    tests.push((condition, true));
    let Expression::Load { pointer } = function.expressions[condition] else { return };
    let Expression::LocalVariable(kept) = function.expressions[pointer] else { return };
    let Some(Statement::If { condition: first, accept, reject }) = before else { return };
    let stored = |block: &Block| match block.last() {
        Some(Statement::Store { pointer, value }) if matches!(function.expressions[*pointer], Expression::LocalVariable(variable) if variable == kept) => {
            Some(*value)
        }
        _ => None,
    };
    let (Some(second), Some(other)) = (stored(accept), stored(reject)) else { return };
    if matches!(function.expressions[other], Expression::Literal(Literal::Bool(false))) {
        tests.extend([(*first, true), (second, true)]);
    }
}

fn each_statement(block: &Block, each: &mut impl FnMut(&Statement)) {
    for statement in block {
        each(statement);
        match statement {
            Statement::Block(inner) => each_statement(inner, each),
            Statement::If { accept, reject, .. } => {
                each_statement(accept, each);
                each_statement(reject, each);
            }
            Statement::Switch { cases, .. } => cases.iter().for_each(|case| each_statement(&case.body, each)),
            Statement::Loop { body, continuing, .. } => {
                each_statement(body, each);
                each_statement(continuing, each);
            }
            _ => {}
        }
    }
}

fn each_store(block: &Block, each: &mut impl FnMut(Handle<Expression>, Handle<Expression>)) {
    each_statement(block, &mut |statement| {
        if let Statement::Store { pointer, value } = statement {
            each(*pointer, *value);
        }
    });
}

/// Whether a turn can be cut short before its end, loops within the loop aside.
fn has_continue(block: &Block) -> bool {
    block.iter().any(|statement| match statement {
        Statement::Continue => true,
        Statement::Block(inner) => has_continue(inner),
        Statement::If { accept, reject, .. } => has_continue(accept) || has_continue(reject),
        Statement::Switch { cases, .. } => cases.iter().any(|case| has_continue(&case.body)),
        _ => false,
    })
}
