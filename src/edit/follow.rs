//! Where a scope is after a change: by names, by what it holds, or by its place where it was renamed.

use crate::show::{Bundle, Clip, Level, Scope, Show};

/// Where a scope of a show is in the same show after a change; nowhere where it is gone.
pub fn followed(before: &Show, now: &Show, scope: Scope) -> Option<Scope> {
    if std::ptr::eq(before, now) {
        return Some(scope);
    }
    match scope {
        Scope::Global => Some(Scope::Global),
        Scope::Bundle(b) => Some(Scope::Bundle(bundle(before, now, b)?)),
        Scope::Level(b, l) => {
            let (b, l) = level(before, now, b, l)?;
            Some(Scope::Level(b, l))
        }
        Scope::Clip(b, l, c) => {
            let (b, l, c) = clip(before, now, b, l, c)?;
            Some(Scope::Clip(b, l, c))
        }
    }
}

/// For each of the old ones, which of the new ones it is: the one of its name, else one that holds the same, else, where
/// there are as many as before, the one in its place.
fn counterparts<T>(
    old: &[T],
    new: &[T],
    name: impl Fn(&T) -> &str,
    is_alike: impl Fn(&T, &T) -> bool,
) -> Vec<Option<usize>> {
    let mut of: Vec<Option<usize>> =
        old.iter().map(|one| new.iter().position(|now| name(now) == name(one))).collect();
    let free = |of: &[Option<usize>], at: &usize| !of.contains(&Some(*at));
    for at in 0..old.len() {
        if of[at].is_none() {
            let found = (0..new.len()).find(|now| free(&of, now) && is_alike(&old[at], &new[*now]));
            of[at] = found.or_else(|| (old.len() == new.len() && free(&of, &at)).then_some(at));
        }
    }
    of
}

fn bundles(before: &Show, now: &Show) -> Vec<Option<usize>> {
    let is_alike = |a: &Bundle, b: &Bundle| a.levels == b.levels && a.chain == b.chain;
    counterparts(&before.bundles, &now.bundles, |bundle| &bundle.name, is_alike)
}

fn bundle(before: &Show, now: &Show, b: usize) -> Option<usize> {
    bundles(before, now).get(b).copied().flatten()
}

fn levels(before: &Bundle, now: &Bundle) -> Vec<Option<usize>> {
    counterparts(&before.levels, &now.levels, |level| &level.name, holds_the_same_level)
}

fn holds_the_same_level(a: &Level, b: &Level) -> bool {
    a.clips == b.clips && a.chain == b.chain
}

fn holds_the_same_clip(a: &Clip, b: &Clip) -> bool {
    a.footage == b.footage && a.chain == b.chain
}

fn level(before: &Show, now: &Show, b: usize, l: usize) -> Option<(usize, usize)> {
    let own = &before.bundles.get(b)?.levels.get(l)?;
    if let Some(to) = bundle(before, now, b)
        && let Some(at) = levels(&before.bundles[b], &now.bundles[to])[l]
    {
        return Some((to, at));
    }
    // It went to another bundle: among those that came there.
    let pairs = bundles(before, now);
    let came = (0..now.bundles.len()).flat_map(|to| {
        let known = match pairs.iter().position(|one| *one == Some(to)) {
            Some(from) => levels(&before.bundles[from], &now.bundles[to]),
            None => Vec::new(),
        };
        (0..now.bundles[to].levels.len())
            .filter(move |at| !known.contains(&Some(*at)))
            .map(move |at| (to, at))
    });
    let came: Vec<(usize, usize)> = came.collect();
    let of = |&(to, at): &(usize, usize)| &now.bundles[to].levels[at];
    let alike = came.iter().find(|place| holds_the_same_level(of(place), own));
    alike.or_else(|| came.iter().find(|place| of(place).name == own.name)).copied()
}

fn clips(before: &Level, now: &Level) -> Vec<Option<usize>> {
    counterparts(&before.clips, &now.clips, |clip| &clip.name, holds_the_same_clip)
}

fn clip(before: &Show, now: &Show, b: usize, l: usize, c: usize) -> Option<(usize, usize, usize)> {
    let own = before.bundles.get(b)?.levels.get(l)?.clips.get(c)?;
    if let Some((to_b, to_l)) = level(before, now, b, l)
        && let Some(at) = clips(&before.bundles[b].levels[l], &now.bundles[to_b].levels[to_l])[c]
    {
        return Some((to_b, to_l, at));
    }
    // It went to another level: to one that has it now and had none such before.
    let places = now.scopes().into_iter().filter_map(|scope| match scope {
        Scope::Clip(b, l, c) => Some((b, l, c)),
        _ => None,
    });
    let of = |(b, l, c): (usize, usize, usize)| &now.bundles[b].levels[l].clips[c];
    let was_there = |(to_b, to_l, at): (usize, usize, usize)| {
        let from = before.scopes().into_iter().find(
            |&scope| matches!(scope, Scope::Level(b, l) if level(before, now, b, l) == Some((to_b, to_l))),
        );
        let Some(Scope::Level(b, l)) = from else { return false };
        clips(&before.bundles[b].levels[l], &now.bundles[to_b].levels[to_l]).contains(&Some(at))
    };
    let came: Vec<_> = places.filter(|&place| !was_there(place)).collect();
    let alike = came.iter().find(|&&place| holds_the_same_clip(of(place), own));
    alike.or_else(|| came.iter().find(|&&place| of(place).name == own.name)).copied()
}
