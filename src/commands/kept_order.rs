//! An order of a chain written as a chain of its own.

use std::path::Path;

use super::documents::{text_from, write_show};
use super::named_order::order_named;
use super::opened::Opened;
use super::output::Output;
use super::subject::Subject;
use super::{WrongWords, note};
use crate::edit::Edit;
use crate::files::Document;
use crate::order::{in_order, marks};
use crate::show::chain::{Chain, EffectUse, Preset, labels, one_after_another};

/// Writes the order that is to be kept, as `--keep` names it.
pub(super) fn keep(subject: &Subject, written: &str, output: &Output) -> anyhow::Result<()> {
    let chain = &subject.path.chain;
    let order = order_named("--keep", written, chain)?;
    keep_as(subject, chain, &order, output)
}

/// Writes this order of a chain, which is the subject's, maybe at other settings.
pub(super) fn keep_as(
    subject: &Subject,
    chain: &[EffectUse],
    order: &[usize],
    output: &Output,
) -> anyhow::Result<()> {
    let labels = labels(chain);
    let code = marks(chain).code(order);
    let said = one_after_another(order.iter().map(|&place| labels[place].as_str()));
    let preset = kept_chain(subject, &code, &said, in_order(chain, order));
    // The effects keep the comments that stand over them in the file.
    let text = text_from(subject.text_of_chain().as_ref(), &Document::Chain(preset), Path::new(""));
    output.write(text.as_bytes())?;
    note(&format!("wrote {} ({code}: {said})", output.path().display()));
    Ok(())
}

/// Puts the order that is to be kept back onto the scope of its show, as `--keep` names it; every effect keeps its mark.
pub(super) fn keep_into(subject: &Subject, written: &str, output: &Output) -> anyhow::Result<()> {
    let Opened::Show { scope, .. } = &subject.opened else {
        return Err(WrongWords(format!(
            "--into: {} is a chain, and an order is put back into a show; save it as a chain file with --as",
            subject.name
        ))
        .into());
    };
    let Document::Show(show) = subject.original().document() else {
        return Err(WrongWords(
            "--into: what was read is no show; save the order as a chain file with --as".to_owned(),
        )
        .into());
    };
    let chain = show.chain(*scope);
    if let Some(section) = subject.section.as_ref().filter(|_| *chain != subject.path.chain) {
        return Err(WrongWords(format!(
            "--into: in {section} {} holds a chain of its own, and the show another; keep the order with --as",
            show.address(*scope)
        ))
        .into());
    }
    let order = order_named("--keep", written, chain)?;
    let labels = labels(chain);
    let code = marks(chain).code(&order);
    let said = one_after_another(order.iter().map(|&place| labels[place].as_str()));
    let (changed, _) = Edit::Order { scope: *scope, order }.applied(show)?;
    write_show(output, &changed, subject.original())?;
    note(&format!("wrote {} ({}, {code}: {said})", output.path().display(), show.address(*scope)));
    Ok(())
}

/// The chain in the order kept, as a preset of its own.
fn kept_chain(subject: &Subject, code: &str, said: &str, chain: Chain) -> Preset {
    let (tags, from) = match &subject.opened {
        Opened::Chain { preset, .. } => (preset.tags.clone(), subject.name.clone()),
        Opened::Show { show, .. } => (show.tags.clone(), format!("{}, {}", subject.name, subject.footage)),
    };
    let controls = match &subject.opened {
        Opened::Chain { preset, .. } => preset.controls.clone(),
        Opened::Show { show, scope, .. } => show.controls_of(*scope),
    };
    Preset {
        name: short(&format!("{} {code}", subject.name)),
        about: format!("Order {code} of {from}: {said}."),
        tags,
        chain,
        controls,
    }
}

/// A name of at most the 80 characters that files take, its end kept.
fn short(name: &str) -> String {
    let extra = name.chars().count().saturating_sub(80);
    name.chars().skip(extra).collect()
}
