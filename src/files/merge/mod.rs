//! A document written into the text that it was read from: what differs is changed, all else stays as a person wrote
//! it, comments, blank lines and the order of keys with it.
//!
//! Three renderings say what differs: the document as it was read and as it is now, both complete, every default
//! written out, and as it is now in plain, as a new file would have it. A key that says the same in both complete
//! renderings is left alone however it is written; one that differs is set; one that the text lacks is added where the
//! plain rendering has it.

mod change;
mod layout;
mod leads;
mod pairs;
mod tables;

use std::collections::HashMap;

use toml_edit::DocumentMut;

use crate::show::Scope;
use change::{Merge, set_entries};
use layout::Layout;
use leads::{Leads, on_headers, prefix_of};
use pairs::Pairs;
pub(super) use tables::PLACE;
use tables::{EFFECT, at_path};

/// A document rendered as TOML.
pub(super) struct Rendered {
    /// With every default.
    pub complete: String,
    /// As a new file has it.
    pub plain: String,
}

/// The `text` of `old`, changed to say `new`; `None` where the one does not lie on the other.
pub(super) fn merged(text: &str, old: &Rendered, new: &Rendered) -> Option<String> {
    let mut document: DocumentMut = text.parse().ok()?;
    let parsed = |text: &str| text.parse::<DocumentMut>().ok().map(DocumentMut::into_table);
    let (old_complete, old_plain) = (parsed(&old.complete)?, parsed(&old.plain)?);
    let (complete, plain) = (parsed(&new.complete)?, parsed(&new.plain)?);

    let mut pairs = Pairs::default();
    pairs.children(&old_plain, &plain, "", "");
    pairs.moved();
    let trailing = document.trailing().as_str().unwrap_or_default().to_owned();
    let mut leads = Leads::of(document.as_table_mut(), &trailing);
    let mut merge = Merge {
        text: document.as_table(),
        old: &old_complete,
        from: pairs.from,
        anchors: HashMap::new(),
        ranks: HashMap::new(),
        slots: HashMap::new(),
    };
    let mut root = merge.text.clone();
    let entries = merge.entries(&root, Some(&old_complete), &complete, &plain, "", Some(""))?;
    set_entries(&mut root, entries);
    let Merge { anchors, ranks, slots, .. } = merge;
    leads.give_up(&mut root, &slots);
    let mut layout = Layout { anchors, ranks, slots, leads, next: 0, tail: String::new() };
    layout.tail = layout.leads.root_tail.clone();
    layout.table(&mut root, "");
    let trailing = format!("{}{}", layout.tail, layout.leads.rest(isize::MAX) + &layout.leads.trailing);
    let mut document = DocumentMut::from(root);
    document.set_trailing(trailing);
    Some(document.to_string())
}

/// The chain of a scope of a show's `text`, with the comments of its effects, behind the `head` of a chain file.
pub(super) fn chain_in(text: &str, scope: Scope, head: &str) -> Option<String> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text).replace("\r\n", "\n");
    let mut document: DocumentMut = text.parse().ok()?;
    let trailing = document.trailing().as_str().unwrap_or_default().to_owned();
    let leads = Leads::of(document.as_table_mut(), &trailing);
    let path = match scope {
        Scope::Global => "/global".to_owned(),
        Scope::Bundle(b) => format!("/bundle:{b}"),
        Scope::Level(b, l) => format!("/bundle:{b}/level:{l}"),
        Scope::Clip(b, l, c) => format!("/bundle:{b}/level:{l}/clip:{c}"),
    };
    let effects = match at_path(document.as_table(), &path, None) {
        Some((Some(table), _)) => table.get(EFFECT).cloned(),
        Some((_, Some(table))) => table.get_key_value(EFFECT).map(|(_, item)| item.clone()),
        _ => None,
    };
    let mut chain: DocumentMut = head.parse().ok()?;
    if let Some(effects) = effects {
        chain.insert(EFFECT, effects);
    }
    let mut tail = String::new();
    on_headers(chain.as_table_mut(), &mut |table| {
        let attached = prefix_of(table.decor());
        table.decor_mut().set_prefix(format!("{tail}\n{attached}"));
        let own = table.position().and_then(|own| leads.tails.get(&own));
        tail = own.cloned().unwrap_or_default();
    });
    chain.set_trailing(tail);
    Some(chain.to_string())
}
