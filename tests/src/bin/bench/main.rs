//! Measures the hub beside its goals, as a process of its own and with real brokers: `tests/bench` builds and runs it.
//! Prints what it finds and judges nothing: it fails only where something could not be measured.

mod board;
mod figures;
mod latency;
mod memory;
mod pace;
mod relay;
mod report;
mod sensors;
mod slow;
mod start;
mod wire;

use std::path::PathBuf;
use std::time::Duration;

use anyhow::Context;
use bellmare_tests::hub::binary;
use clap::{Parser, Subcommand, ValueEnum};

use crate::board::Changes;
use crate::report::Goal::{AtLeast, AtMost};
use crate::report::Report;
use crate::start::Snapshots;

/// The barn that the goals are set for, and one of each other size to see how cost grows.
const STALLS: u32 = 200;
const SIZES: [u32; 3] = [20, STALLS, 2_000];
/// What a slow card adds to a commit.
const SLOW_COMMIT: Duration = Duration::from_millis(20);

/// Measures the hub beside its goals.
#[derive(Parser)]
#[command(name = "bench", args_conflicts_with_subcommands = true)]
struct Cli {
    /// A quarter of the time, with rougher figures.
    #[arg(long)]
    quick: bool,
    /// Write the figures to this file as well.
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    /// Measure this alone; may be given more than once.
    #[arg(long, value_enum)]
    only: Vec<Part>,
    #[command(subcommand)]
    other: Option<Other>,
}

#[derive(Subcommand)]
enum Other {
    /// Run a hub whose commits take longer.
    #[command(hide = true)]
    SlowHub {
        #[arg(long)]
        commit_delay_ms: u64,
        settings: PathBuf,
    },
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Part {
    /// Readings a second, beside a Python program.
    Pace,
    /// From publish to acknowledged commit at 1,000 a second.
    Latency,
    /// The same with slow commits.
    Slow,
    /// From publish to a kiosk's board.
    Board,
    /// Starting with a long journal.
    Start,
    /// Resident memory.
    Memory,
}

/// How much of everything.
struct Amount {
    readings: u64,
    seconds: u64,
    changes: u32,
    changes_elsewhere: u32,
}

const FULL: Amount = Amount { readings: 200_000, seconds: 10, changes: 100, changes_elsewhere: 40 };
const QUICK: Amount = Amount { readings: 60_000, seconds: 3, changes: 20, changes_elsewhere: 8 };

fn main() -> anyhow::Result<()> {
    let cli = Cli::parse();
    if let Some(Other::SlowHub { commit_delay_ms, settings }) = cli.other {
        return slow::hub(&settings, Duration::from_millis(commit_delay_ms));
    }
    // Built now, so that no measure waits for it.
    binary("bellmare-hub");
    let amount = if cli.quick { QUICK } else { FULL };
    let mut report = Report::begin()?;
    let parts = if cli.only.is_empty() { Part::value_variants().to_vec() } else { cli.only };
    for part in parts {
        match part {
            Part::Pace => pace(&mut report, &amount).context("readings a second")?,
            Part::Latency => latency(&mut report, &amount).context("latency")?,
            Part::Slow => slow_commits(&mut report, &amount).context("slow commits")?,
            Part::Board => boards(&mut report, &amount).context("publish to board")?,
            Part::Start => starts(&mut report).context("starting")?,
            Part::Memory => memory_of(&mut report).context("memory")?,
        }
    }
    report.end();
    println!("\n{}", report.table());
    if let Some(path) = &cli.json {
        report.write_json(path)?;
    }
    Ok(())
}

fn pace(report: &mut Report, amount: &Amount) -> anyhow::Result<()> {
    let count = amount.readings;
    let (mut live, mut stored) = (0.0, 0.0);
    for stalls in SIZES {
        let goal = (stalls == STALLS).then_some(AtLeast(50_000.0));
        let per_s = pace::hub_live(stalls, count)?;
        report.note("readings to acknowledged commit, live", stalls, per_s, "/s", goal);
        let from_store = pace::hub_stored(stalls, count)?;
        report.note("the same, stored in the broker before", stalls, from_store, "/s", goal);
        if stalls == STALLS {
            (live, stored) = (per_s, from_store);
        }
    }
    let Some(python) = std::env::var_os("PYTHON_WITH_PAHO").map(PathBuf::from) else {
        eprintln!("skipped: paho-mqtt and sqlite3, as PYTHON_WITH_PAHO names no Python");
        return Ok(());
    };
    // It is slower: half as many say as much.
    let paho_live = pace::paho_live(&python, STALLS, count / 2)?;
    report.note("paho-mqtt + sqlite3 in Python, live", STALLS, paho_live, "/s", None);
    let paho_stored = pace::paho_stored(&python, STALLS, count / 2)?;
    report.note("the same, stored in the broker before", STALLS, paho_stored, "/s", None);
    report.note("hub to Python, live", STALLS, live / paho_live, "times", Some(AtLeast(5.0)));
    report.note("hub to Python, stored", STALLS, stored / paho_stored, "times", Some(AtLeast(5.0)));
    Ok(())
}

fn latency(report: &mut Report, amount: &Amount) -> anyhow::Result<()> {
    for stalls in SIZES {
        let found = latency::measure(stalls, amount.seconds, None)?;
        let goal = (stalls == STALLS).then_some(AtMost(3.0));
        report.note("publish to acknowledged commit at 1,000/s, p50", stalls, found.spread.percentile(50), "ms", None);
        report.note("publish to acknowledged commit at 1,000/s, p99", stalls, found.spread.percentile(99), "ms", goal);
    }
    Ok(())
}

fn slow_commits(report: &mut Report, amount: &Amount) -> anyhow::Result<()> {
    let found = latency::measure(STALLS, amount.seconds, Some(SLOW_COMMIT))?;
    // A commit more or less at either end is not falling behind.
    let held = 0.99 * latency::RATE as f64;
    report.note("each commit 20 ms slower: held", STALLS, found.rate, "/s", Some(AtLeast(held)));
    report.note("each commit 20 ms slower: p50", STALLS, found.spread.percentile(50), "ms", None);
    report.note("each commit 20 ms slower: p99", STALLS, found.spread.percentile(99), "ms", Some(AtMost(60.0)));
    Ok(())
}

fn boards(report: &mut Report, amount: &Amount) -> anyhow::Result<()> {
    for stalls in SIZES {
        let of_goal = stalls == STALLS;
        let count = if of_goal { amount.changes } else { amount.changes_elsewhere };
        let apart = board::measure(stalls, count, Changes::Apart)?;
        let at_any_time = board::measure(stalls, count, Changes::AtAnyTime)?;
        let goal = of_goal.then_some(AtMost(100.0));
        let what = |of_hundred: u32| format!("publish to board, p{of_hundred} of {}", apart.count());
        report.note(what(50), stalls, apart.percentile(50), "ms", None);
        report.note(what(99), stalls, apart.percentile(99), "ms", goal);
        report.note("the same, changes at any time, p50", stalls, at_any_time.percentile(50), "ms", None);
        report.note("the same, changes at any time, p99", stalls, at_any_time.percentile(99), "ms", None);
    }
    Ok(())
}

fn starts(report: &mut Report) -> anyhow::Result<()> {
    let ways = [(Snapshots::AsTheHubDoes, "50,000 after the last snapshot"), (Snapshots::None, "no snapshot")];
    for (snapshots, words) in ways {
        let found = start::measure(STALLS, snapshots)?;
        let what = format!("start with {} facts, {:.0} MiB, {words}", start::FACTS, found.mib);
        report.note(what, STALLS, found.took.as_secs_f64(), "s", Some(AtMost(2.0)));
    }
    Ok(())
}

fn memory_of(report: &mut Report) -> anyhow::Result<()> {
    for (own_broker, beside, most) in [(false, "mosquitto beside it", 14.0), (true, "its own broker", 24.0)] {
        for stalls in SIZES {
            let (now, peak) = memory::measure(stalls, own_broker)?;
            let goal = (stalls == STALLS).then_some(AtMost(most));
            let what = format!("resident after {} readings, {beside}", memory::READINGS);
            report.note(what, stalls, now, "MiB", goal);
            report.note(format!("at its most, {beside}"), stalls, peak, "MiB", None);
        }
    }
    Ok(())
}
