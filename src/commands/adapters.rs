//! `underover adapters`: what there is to render on.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::output::write_json;
use crate::gpu::{ADAPTER_VARIABLE, Gpu, GpuError, adapters};

/// The options of `adapters`.
#[derive(Debug, Args)]
#[command(after_help = "Example: underover adapters --adapter gl")]
pub(super) struct Adapters {
    /// Part of the name of the adapter to choose
    #[arg(long, value_name = "NAME-PART", env = ADAPTER_VARIABLE)]
    adapter: Option<String>,
    /// The list as figures (`-` is standard output)
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
}

impl Adapters {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let all = adapters();
        if all.is_empty() {
            return Err(GpuError::NoAdapter.into());
        }
        let gpu = Gpu::open(self.adapter.as_deref())?;
        let chosen = gpu.adapter();
        if let Some(json) = &self.json {
            let list: Vec<_> = all
                .iter()
                .map(|a| {
                    json!({"name": a.name, "backend": a.backend, "kind": a.kind,
                           "largest_side": a.largest_side, "chosen": a == chosen})
                })
                .collect();
            write_json(json, &list)?;
            if json.as_os_str() == "-" {
                return Ok(());
            }
        }
        for adapter in &all {
            let mark = if adapter == chosen { "->" } else { "  " };
            println!("{mark} {adapter}, frames up to {0}x{0}", adapter.largest_side);
        }
        println!("--adapter NAME-PART or {ADAPTER_VARIABLE} chooses another.");
        Ok(())
    }
}
