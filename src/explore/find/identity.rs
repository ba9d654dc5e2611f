//! What stands for everything that decides how candidates come out, so that shares of two searches are told apart.

use crate::base::content::Content;
use crate::plan::{After, Path, Step};
use crate::show::chain::EffectCall;

/// What stands for the frames of some paths: what is under the chain, the chain, and what is over it.
pub(super) fn of_frames(paths: &[Path]) -> String {
    let mut all = String::new();
    for path in paths.iter().flat_map(Path::frames) {
        all += &format!("{:?} {}\n", path.moment, path.input);
        path.before.iter().for_each(|step| all += &of_step(step));
        path.after.iter().for_each(|after| all += &of_after(after));
        path.chain.iter().for_each(|used| all += &of_call(&used.call(&path.moment)));
    }
    all
}

/// What stands for an effect with its settings, whatever file it is from.
fn of_call(call: &EffectCall) -> String {
    format!("{} {:?}\n", call.effect.content, call.uniform)
}

fn of_step(step: &Step) -> String {
    match step {
        Step::TakeIn { picture, .. } => format!("{}\n", Content::of(&picture.rgba)),
        Step::Generate { call, .. } => of_call(call),
        Step::Apply { call, from, .. } => format!("{from} {}", of_call(call)),
        step => format!("{step:?}\n"),
    }
}

fn of_after(after: &After) -> String {
    match after {
        After::Apply(call) => of_call(call),
        after => format!("{after:?}\n"),
    }
}
