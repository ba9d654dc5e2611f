//! `underover trial-effects`: what the program runs of itself to try effects of a person's own.

use std::io::{stdin, stdout};

use clap::Args;

use crate::gpu::ADAPTER_VARIABLE;
use crate::trial;

/// The options of `trial-effects`.
#[derive(Debug, Args)]
pub(super) struct TrialEffects {
    /// Part of the name of the GPU adapter to use
    #[arg(long, value_name = "NAME-PART", env = ADAPTER_VARIABLE)]
    adapter: Option<String>,
    /// Memory that it may take, in MiB
    #[arg(long, value_name = "MIB", default_value_t = trial::MEMORY_MIB)]
    memory: u64,
}

impl TrialEffects {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        Ok(trial::work_off(stdin().lock(), stdout().lock(), self.adapter.as_deref(), self.memory)?)
    }
}
