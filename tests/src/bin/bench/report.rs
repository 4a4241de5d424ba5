//! Results beside goals: one table for people, JSON for machines. Goals are printed and never asserted: what a figure is
//! worth depends on the machine, so that stands above them.

use std::fmt::Write as _;
use std::fs::File;
use std::io::Write as _;
use std::os::unix::fs::FileExt as _;
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use anyhow::Context;
use serde::Serialize;

use crate::figures::Spread;

/// What a figure should be.
#[derive(Clone, Copy, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Goal {
    /// This or more.
    AtLeast(f64),
    /// This or less.
    AtMost(f64),
}

impl Goal {
    fn is_met_by(self, value: f64) -> bool {
        match self {
            Self::AtLeast(least) => value >= least,
            Self::AtMost(most) => value <= most,
        }
    }
}

/// One figure.
#[derive(Clone, Serialize)]
struct Row {
    what: String,
    stalls: u32,
    value: f64,
    unit: &'static str,
    goal: Option<Goal>,
    met: Option<bool>,
}

/// The machine and the source.
#[derive(Clone, Serialize)]
struct Head {
    commit: String,
    cpu: String,
    cores: usize,
    /// The mean load over a minute, before and after.
    load_before: f64,
    load_after: f64,
    /// What the disk takes to sync 4 KiB: the middle one of many.
    sync_ms: f64,
    seconds: f64,
}

/// All figures of a run.
pub struct Report {
    head: Head,
    rows: Vec<Row>,
    began: Instant,
}

impl Report {
    /// Looks at the machine.
    pub fn begin() -> anyhow::Result<Self> {
        let head = Head {
            commit: commit(),
            cpu: cpu(),
            cores: std::thread::available_parallelism().map_or(1, usize::from),
            load_before: load(),
            load_after: 0.0,
            sync_ms: sync_ms().context("trying how long a sync takes")?,
            seconds: 0.0,
        };
        Ok(Self { head, rows: Vec::new(), began: Instant::now() })
    }

    /// Notes a figure, and tells it to whoever waits.
    pub fn note(&mut self, what: impl Into<String>, stalls: u32, value: f64, unit: &'static str, goal: Option<Goal>) {
        let met = goal.map(|goal| goal.is_met_by(value));
        let row = Row { what: what.into(), stalls, value, unit, goal, met };
        eprintln!("   {:>4.0} s  {}, {} stalls: {} {unit}", self.seconds(), row.what, stalls, figure(value));
        self.rows.push(row);
    }

    /// Looks at the machine again.
    pub fn end(&mut self) {
        self.head.load_after = load();
        self.head.seconds = self.seconds();
    }

    /// The table.
    pub fn table(&self) -> String {
        let Head { commit, cpu, cores, load_before, load_after, sync_ms, seconds } = &self.head;
        let mut text = format!(
            "Bellmare at {commit}, built with --release. {cpu}, {cores} cores; load {load_before} before and {load_after} after.\n\
             Syncing 4 KiB takes {sync_ms:.2} ms on this disk; a card takes 5 to 20. Took {seconds:.0} s.\n\n"
        );
        let width = self.rows.iter().map(|row| row.what.chars().count()).max().unwrap_or(0);
        let mut line = |what: &str, stalls: &str, result: &str, goal: &str, met: &str| {
            let line = format!("{what:width$}  {stalls:>6}  {result:>18}  {goal:>18}  {met}");
            // Writing to a string does not fail.
            let _ = writeln!(text, "{}", line.trim_end());
        };
        line("measured", "stalls", "result", "goal", "met");
        for row in &self.rows {
            let result = format!("{} {}", figure(row.value), row.unit);
            let goal = match row.goal {
                None => String::new(),
                Some(Goal::AtLeast(least)) => format!("from {} {}", figure(least), row.unit),
                Some(Goal::AtMost(most)) => format!("up to {} {}", figure(most), row.unit),
            };
            let met = row.met.map_or("", |met| if met { "yes" } else { "NO" });
            line(&row.what, &row.stalls.to_string(), &result, &goal, met);
        }
        text
    }

    /// Writes everything as JSON.
    pub fn write_json(&self, path: &Path) -> anyhow::Result<()> {
        #[derive(Serialize)]
        struct Whole<'r> {
            head: &'r Head,
            rows: &'r [Row],
        }
        let file = File::create(path).with_context(|| format!("making {}", path.display()))?;
        serde_json::to_writer_pretty(&file, &Whole { head: &self.head, rows: &self.rows }).context("writing JSON")?;
        writeln!(&file).context("writing JSON")
    }

    fn seconds(&self) -> f64 {
        self.began.elapsed().as_secs_f64()
    }
}

/// Three digits or so, thousands set apart.
fn figure(value: f64) -> String {
    if value < 10.0 {
        return format!("{value:.2}");
    }
    if value < 1000.0 {
        return format!("{value:.1}");
    }
    let digits = format!("{value:.0}");
    let mut text = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at) % 3 == 0 {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

fn commit() -> String {
    let git = |arguments: &[&str]| {
        let said = Command::new("git").args(arguments).current_dir(env!("CARGO_MANIFEST_DIR")).output().ok()?;
        said.status.success().then(|| String::from_utf8_lossy(&said.stdout).trim().to_owned())
    };
    let changed = git(&["status", "--porcelain"]).is_some_and(|changes| !changes.is_empty());
    let commit = git(&["rev-parse", "--short=10", "HEAD"]).unwrap_or_else(|| "an unknown commit".to_owned());
    if changed { format!("{commit} with changes") } else { commit }
}

fn cpu() -> String {
    let text = std::fs::read_to_string("/proc/cpuinfo").unwrap_or_default();
    // Arm boards say what they are elsewhere.
    let board = || std::fs::read_to_string("/proc/device-tree/model").ok();
    let model = text.lines().find_map(|line| line.strip_prefix("model name")?.split_once(": "));
    let model = model.map(|(_, name)| name.to_owned()).or_else(board);
    model.map_or_else(|| "an unknown processor".to_owned(), |name| name.trim_end_matches('\0').to_owned())
}

fn load() -> f64 {
    let text = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
    text.split(' ').next().and_then(|minute| minute.parse().ok()).unwrap_or(f64::NAN)
}

fn sync_ms() -> std::io::Result<f64> {
    let file = tempfile::tempfile()?;
    let once = |_| {
        let began = Instant::now();
        // Over itself, as a journal's log is written: a file that grows takes longer.
        file.write_all_at(&[0; 4096], 0)?;
        file.sync_data()?;
        Ok(began.elapsed())
    };
    let times = (0..100).map(once).collect::<std::io::Result<Vec<Duration>>>()?;
    Ok(Spread::of(times).percentile(50))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_read_well() {
        for (value, text) in
            [(0.4567, "0.46"), (12.34, "12.3"), (999.0, "999.0"), (1234.0, "1,234"), (1e6, "1,000,000")]
        {
            assert_eq!(figure(value), text);
        }
    }

    #[test]
    fn a_goal_is_met_up_to_its_edge() {
        assert!(Goal::AtLeast(5.0).is_met_by(5.0) && !Goal::AtLeast(5.0).is_met_by(4.9));
        assert!(Goal::AtMost(5.0).is_met_by(5.0) && !Goal::AtMost(5.0).is_met_by(5.1));
    }
}
