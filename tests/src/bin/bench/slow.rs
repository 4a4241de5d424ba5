//! The hub's own library, run as the hub's program runs it, with commits that take longer: what a slow card does. Started
//! by the bench itself as another process.

use std::path::Path;
use std::time::Duration;

use anyhow::{Context, bail};
use bellmare_hub::app::{self, Conduct};
use bellmare_hub::clock::Clock;
use bellmare_hub::settings::Settings;

/// Runs until it is killed.
pub fn hub(settings: &Path, commit_delay: Duration) -> anyhow::Result<()> {
    let settings = Settings::load(Some(settings), std::iter::empty::<(String, String)>())?;
    let mut conduct = Conduct::default();
    conduct.journal.commit_delay = commit_delay;
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().context("starting the runtime")?;
    runtime.block_on(async {
        app::start(&settings, Clock::system, conduct).await?.ended().await;
        bail!("the hub's loop has ended by itself")
    })
}
