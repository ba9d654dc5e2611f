//! Between which values an expression lies, from constants and from the ranges of settings.

use naga::{
    BinaryOperator, Expression, GlobalVariable, Handle, Literal, LocalVariable, MathFunction, ScalarKind,
    TypeInner, UnaryOperator,
};

use super::{DEEPEST, Walk};
use crate::catalogue::{DerivedKind, Kind};

/// Between which values something lies, both ends included.
pub(super) type Range = (f64, f64);

pub(super) const ANY: Range = (f64::NEG_INFINITY, f64::INFINITY);

pub(super) fn hull(a: Range, b: Range) -> Range {
    (a.0.min(b.0), a.1.max(b.1))
}

impl Walk<'_> {
    pub(super) fn first_value(&self, variable: Handle<LocalVariable>, depth: u32) -> Range {
        match self.function.local_variables[variable].init {
            Some(init) => self.range(init, depth + 1),
            None => (0.0, 0.0),
        }
    }

    /// Between which values an expression lies, whenever it is worked out.
    pub(super) fn range(&self, expression: Handle<Expression>, depth: u32) -> Range {
        let left = self.looks.get();
        if left == 0 || depth > DEEPEST {
            return ANY;
        }
        self.looks.set(left - 1);
        let found = self.range_unclipped(expression, depth);
        let kind = self.kind(expression, DEEPEST);
        match kind {
            // What leaves the numbers without a sign comes back in at their other end.
            Some(ScalarKind::Uint) if found.0 < 0.0 || found.1 > f64::from(u32::MAX) => {
                (0.0, f64::from(u32::MAX))
            }
            Some(ScalarKind::Sint) if found.0 < f64::from(i32::MIN) || found.1 > f64::from(i32::MAX) => {
                (f64::from(i32::MIN), f64::from(i32::MAX))
            }
            _ => found,
        }
    }

    /// The kind of number that an expression is, where that can be told at a glance.
    pub(super) fn kind(&self, expression: Handle<Expression>, deeper: u32) -> Option<ScalarKind> {
        let deeper = deeper.checked_sub(1)?;
        match &self.function.expressions[expression] {
            Expression::Literal(Literal::U32(_)) => Some(ScalarKind::Uint),
            Expression::Literal(Literal::I32(_)) => Some(ScalarKind::Sint),
            Expression::As { kind, .. } => Some(*kind),
            Expression::Binary { left, .. } => self.kind(*left, deeper),
            Expression::Unary { expr, .. } => self.kind(*expr, deeper),
            Expression::Math { arg, .. } => self.kind(*arg, deeper),
            Expression::Select { accept, .. } => self.kind(*accept, deeper),
            Expression::Load { pointer } => match self.function.expressions[*pointer] {
                Expression::LocalVariable(variable) => {
                    let ty = self.function.local_variables[variable].ty;
                    self.module.types[ty].inner.scalar().map(|scalar| scalar.kind)
                }
                Expression::AccessIndex { base, index } => {
                    let TypeInner::Struct { members, .. } = &self.module.types[self.global(base)?.ty].inner
                    else {
                        return None;
                    };
                    self.module.types[members.get(index as usize)?.ty]
                        .inner
                        .scalar()
                        .map(|scalar| scalar.kind)
                }
                _ => None,
            },
            _ => None,
        }
    }

    fn global(&self, expression: Handle<Expression>) -> Option<&GlobalVariable> {
        match self.function.expressions[expression] {
            Expression::GlobalVariable(global) => Some(&self.module.global_variables[global]),
            _ => None,
        }
    }

    fn range_unclipped(&self, expression: Handle<Expression>, depth: u32) -> Range {
        let range = |inner: Handle<Expression>| self.range(inner, depth + 1);
        match &self.function.expressions[expression] {
            Expression::Literal(literal) => literal_range(*literal),
            Expression::Constant(constant) => {
                match self.module.global_expressions[self.module.constants[*constant].init] {
                    Expression::Literal(literal) => literal_range(literal),
                    _ => ANY,
                }
            }
            Expression::ZeroValue(_) => (0.0, 0.0),
            Expression::Load { pointer } => self.loaded(*pointer, depth),
            Expression::Unary { op: UnaryOperator::Negate, expr } => {
                let (low, high) = range(*expr);
                (-high, -low)
            }
            Expression::Select { accept, reject, .. } => hull(range(*accept), range(*reject)),
            Expression::As { expr, kind, .. } => {
                let (low, high) = range(*expr);
                match kind {
                    ScalarKind::Float => (low, high),
                    ScalarKind::Uint => {
                        // From a float it is clamped, from a number with a sign it is the same bits.
                        let is_float = !matches!(self.kind(*expr, DEEPEST), Some(ScalarKind::Sint));
                        if low < 0.0 && !is_float {
                            ANY
                        } else {
                            (low.trunc().max(0.0), high.trunc().max(0.0))
                        }
                    }
                    _ => (low.trunc(), high.trunc()),
                }
            }
            Expression::Binary { op, left, right } => {
                let (a, b) = (range(*left), range(*right));
                match op {
                    BinaryOperator::Add => (a.0 + b.0, a.1 + b.1),
                    BinaryOperator::Subtract => (a.0 - b.1, a.1 - b.0),
                    BinaryOperator::Multiply => corners(a, b, |x, y| x * y),
                    BinaryOperator::Divide if b.0 > 0.0 => {
                        let (low, high) = corners(a, b, |x, y| x / y);
                        (low.floor(), high.ceil())
                    }
                    BinaryOperator::Modulo if b.0 > 0.0 => (if a.0 < 0.0 { -b.1 } else { 0.0 }, b.1),
                    _ => ANY,
                }
            }
            Expression::Math { fun, arg, arg1, arg2, .. } => {
                let a = range(*arg);
                let b = arg1.map_or(ANY, range);
                match fun {
                    MathFunction::Min => (a.0.min(b.0), a.1.min(b.1)),
                    MathFunction::Max => (a.0.max(b.0), a.1.max(b.1)),
                    MathFunction::Clamp => {
                        let c = arg2.map_or(ANY, range);
                        (a.0.max(b.0).min(c.0.max(b.0)), a.1.max(b.1).min(c.1))
                    }
                    MathFunction::Abs => {
                        let most = a.0.abs().max(a.1.abs());
                        (if a.0 <= 0.0 && a.1 >= 0.0 { 0.0 } else { a.0.abs().min(a.1.abs()) }, most)
                    }
                    MathFunction::Floor => (a.0.floor(), a.1.floor()),
                    MathFunction::Ceil => (a.0.ceil(), a.1.ceil()),
                    MathFunction::Round => (a.0.round(), a.1.round()),
                    MathFunction::Trunc => (a.0.trunc(), a.1.trunc()),
                    MathFunction::Saturate => (a.0.clamp(0.0, 1.0), a.1.clamp(0.0, 1.0)),
                    _ => ANY,
                }
            }
            _ => ANY,
        }
    }

    /// What is read at a place: a setting, or a variable by all that is ever put into it.
    fn loaded(&self, pointer: Handle<Expression>, depth: u32) -> Range {
        match self.function.expressions[pointer] {
            Expression::AccessIndex { base, index } => self.setting(base, index).unwrap_or(ANY),
            Expression::LocalVariable(variable) if !self.lent.contains(&variable) => {
                let mut found = self.first_value(variable, depth);
                for &value in self.stored.get(&variable).into_iter().flatten() {
                    if found != ANY {
                        found = hull(found, self.range(value, depth + 6));
                    }
                }
                found
            }
            _ => ANY,
        }
    }

    /// The range of the setting that is this member of `Settings`.
    fn setting(&self, base: Handle<Expression>, index: u32) -> Option<Range> {
        let global = self.global(base)?;
        if global.name.as_deref() != Some("settings") {
            return None;
        }
        let TypeInner::Struct { members, .. } = &self.module.types[global.ty].inner else { return None };
        let name = members.get(index as usize)?.name.as_deref()?;
        if let Some(setting) = self.effect.setting(name) {
            return match &setting.kind {
                Kind::Number { range: [low, high], .. } => Some((*low, *high)),
                Kind::Whole { range: [low, high], .. } => Some((*low as f64, *high as f64)),
                Kind::Choice(words) => Some((0.0, words.len() as f64 - 1.0)),
                Kind::Colour => None,
            };
        }
        let derived = self.effect.derived.iter().find(|derived| derived.name == name)?;
        match derived.kind {
            DerivedKind::Texels { .. } | DerivedKind::Direction { .. } => None,
            _ => Some((0.0, 1.0)),
        }
    }
}

fn literal_range(literal: Literal) -> Range {
    let value = match literal {
        Literal::I32(value) => f64::from(value),
        Literal::U32(value) => f64::from(value),
        Literal::F32(value) => f64::from(value),
        Literal::AbstractInt(value) => value as f64,
        Literal::AbstractFloat(value) => value,
        _ => return ANY,
    };
    (value, value)
}

fn corners(a: Range, b: Range, of: impl Fn(f64, f64) -> f64) -> Range {
    let all = [of(a.0, b.0), of(a.0, b.1), of(a.1, b.0), of(a.1, b.1)];
    if all.iter().any(|value| value.is_nan()) {
        return ANY;
    }
    all.iter().fold((all[0], all[0]), |found, &value| hull(found, (value, value)))
}
