//! What the kiosk costs, beside its goals: `tests/bench-kiosk` builds and runs it. It prints what it finds and judges nothing; it
//! fails only where something could not be measured.

mod drawing;
mod process;
mod screen;

use anyhow::Context;
use bellmare_barn::board::{Board, Clock, WaterView};
use bellmare_barn::time::TimeOfDay;

/// The barn that the goals are set for.
const STALLS: usize = 40;
/// The panel that they are set for.
const PANEL: (u32, u32) = (1280, 800);

/// A figure beside its goal.
struct Figure {
    what: &'static str,
    found: f64,
    goal: Option<f64>,
    unit: &'static str,
    how: String,
}

impl Figure {
    fn print(&self) {
        let goal = self.goal.map_or(String::new(), |goal| format!("{goal} {}", self.unit));
        let met = match self.goal {
            Some(goal) if self.found <= goal => "met",
            Some(_) => "MISSED",
            None => "",
        };
        println!("{:<44} {:>9.3} {:<4} {:>9} {:<7} {}", self.what, self.found, self.unit, goal, met, self.how);
    }
}

fn main() -> anyhow::Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let quick = arguments.iter().any(|argument| argument == "--quick");
    // Cargo itself passes --bench.
    if let Some(other) = arguments.iter().find(|argument| !["--quick", "--bench"].contains(&argument.as_str())) {
        anyhow::bail!("\"{other}\" is no argument of this: only --quick");
    }
    println!("{:<44} {:>9} {:<4} {:>9}", "", "found", "", "goal");
    drawing::measure(quick)?.iter().for_each(Figure::print);
    match process::missing() {
        None => process::measure(quick)?.iter().for_each(Figure::print),
        Some(program) => println!("skipped: the real window, because {program} is not installed"),
    }
    Ok(())
}

/// The sample barn of sixty stalls, cut to forty.
fn barn() -> anyhow::Result<Board> {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/samples/sixty.json");
    let mut board = bellmare_kiosk::run::read_board(file.as_ref())?;
    let sides = board.stalls.len() / 2;
    let mut at = 0;
    board.stalls.retain(|_| {
        at += 1;
        // As many of each row.
        (at - 1) % sides < STALLS / 2
    });
    anyhow::ensure!(board.stalls.len() == STALLS, "the sample has {} stalls", board.stalls.len());
    Ok(board)
}

/// The board so many minutes later: the clock goes on, and each minute another bucket is another bit emptier.
fn later(board: &Board, minute: usize) -> anyhow::Result<Board> {
    let mut board = board.clone();
    let stall = minute % board.stalls.len();
    if let WaterView::Known { percent, litres, .. } = &mut board.stalls[stall].water {
        *percent = 20.0 + (minute % 80) as f64;
        *litres = *percent * 0.2;
    }
    if let Clock::Set { time, .. } = &mut board.clock {
        *time = TimeOfDay::from_minutes((minute % 1440) as u16).context("a minute of the day")?;
    }
    Ok(board)
}

/// The value that so large a share of the others is under.
fn percentile(values: &mut [f64], share: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    let at = ((values.len() as f64 * share).ceil() as usize).clamp(1, values.len().max(1));
    values.get(at - 1).copied().unwrap_or(f64::NAN)
}

/// Resident memory of a process in MB.
fn resident_mb(process: u32) -> anyhow::Result<f64> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status"))?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:")).context("no VmRSS")?;
    Ok(line.trim().trim_end_matches(" kB").parse::<f64>()? / 1000.0)
}
