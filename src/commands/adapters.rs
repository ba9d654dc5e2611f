//! `underover adapters`: what there is to render on.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::note;
use super::output::{Output, Replace, check_outputs, figures_output, is_standard_output, say};
use super::subject::opened;
use crate::gpu::{ADAPTER_VARIABLE, adapters};

/// The options of `adapters`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  underover adapters
  underover adapters --adapter gl")]
pub(super) struct Adapters {
    /// Part of the name of the adapter to choose
    #[arg(long, value_name = "NAME-PART", env = ADAPTER_VARIABLE)]
    adapter: Option<String>,
    /// The list as figures (`-` is standard output)
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    #[command(flatten)]
    replace: Replace,
}

impl Adapters {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        check_outputs(&figures_output(self.json.as_deref(), self.replace))?;
        let gpu = opened(self.adapter.as_deref())?;
        let all = adapters();
        let chosen = gpu.adapter();
        if let Some(json) = &self.json {
            let list: Vec<_> = all
                .iter()
                .map(|a| {
                    json!({"name": a.name, "backend": a.backend, "kind": a.kind,
                           "largest_side": a.largest_side, "chosen": a == chosen})
                })
                .collect();
            Output::figures(json, self.replace).write_json(&list)?;
            if is_standard_output(json) {
                return Ok(());
            }
            note(&format!("wrote {}", json.display()));
        }
        let mut text = String::new();
        for adapter in &all {
            let mark = if adapter == chosen { "->" } else { "  " };
            text += &format!("{mark} {adapter}, frames up to {0}x{0}\n", adapter.largest_side);
        }
        say(&format!(
            "{text}-> is the one in use; --adapter NAME-PART or {ADAPTER_VARIABLE} chooses another.\n"
        ))
    }
}
