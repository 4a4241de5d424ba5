//! `bellmare-hub plan`: a day file in, a plan file out. For trying days without a hub.

use std::fs;
use std::path::Path;

use anyhow::{Context, bail};
use bellmare_barn::plan::file::DayFile;
use bellmare_barn::plan::{Day, Effort, plan};

/// Reads a day, plans it, and gives the plan file as JSON.
///
/// # Errors
/// A file that can not be read or is no day file, and every fault of the day with its place.
pub(crate) fn plan_file(path: &Path, effort: Option<u64>) -> anyhow::Result<String> {
    let text = fs::read_to_string(path).with_context(|| format!("reading {}", path.display()))?;
    let file: DayFile = serde_json::from_str(&text).with_context(|| format!("{} is no day file", path.display()))?;
    let day = match Day::checked(&file) {
        Ok(day) => day,
        Err(faults) => {
            for fault in &faults {
                eprintln!("{}: {fault}", path.display());
            }
            bail!("the day in {} has faults", path.display())
        }
    };
    let effort = effort.map_or_else(|| Effort::for_day(&day), Effort);
    let plan = plan(&day, effort, &mut || true);
    serde_json::to_string_pretty(&plan.file(&day)).context("writing the plan as JSON")
}
