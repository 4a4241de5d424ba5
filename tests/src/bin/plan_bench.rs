//! The prep plan measured: every kind of day, seeds 1 to 30, beside what CP-SAT found and beside the goals.
//!
//! `cargo run --release -p bellmare-tests --bin plan_bench`. Days come from `tests/reference/plan/days.py`; the stored
//! results of CP-SAT are `tests/reference/plan/*.json`, made by `make` there. Times are of one thread on this machine.

use std::collections::BTreeMap;
use std::path::Path;
use std::process::{Command, ExitCode};
use std::time::{Duration, Instant};

use bellmare_barn::plan::file::DayFile;
use bellmare_barn::plan::price::Parts;
use bellmare_barn::plan::{Day, Effort, Plan, plan};
use serde::Deserialize;

const SEEDS: std::ops::RangeInclusive<usize> = 1..=30;

/// A kind of day, and how long a plan of it may take.
const KINDS: [(&str, Duration); 8] = [
    ("small", Duration::from_millis(10)),
    ("typical", Duration::from_millis(50)),
    ("busy", Duration::from_millis(250)),
    ("camp", Duration::from_millis(1000)),
    ("small-replan", Duration::from_micros(2500)),
    ("typical-replan", Duration::from_micros(12_500)),
    ("busy-replan", Duration::from_micros(62_500)),
    ("camp-replan", Duration::from_millis(250)),
];

/// What CP-SAT found for a day.
#[derive(Deserialize)]
struct Solved {
    status: String,
    cost: i64,
    parts: BTreeMap<String, i64>,
}

fn main() -> ExitCode {
    match measure() {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            eprintln!("plan_bench: {why}");
            ExitCode::FAILURE
        }
    }
}

fn measure() -> Result<(), Box<dyn std::error::Error>> {
    println!("kind             days outings  proved  gap to bound     median        max       goal");
    let mut compared = Vec::new();
    for (kind, goal) in KINDS {
        let solved = solved(kind)?;
        let mut times = Vec::new();
        let mut rows = Rows::default();
        let mut outings = 0;
        let mut gaps = Vec::new();
        for (seed, file) in SEEDS.zip(days(kind)?) {
            let day = Day::checked(&file).map_err(|faults| format!("{kind} {seed}: {faults:?}"))?;
            let began = Instant::now();
            let plan = plan(&day, Effort::for_day(&day), &mut || true);
            times.push(began.elapsed());
            outings += day.outings.len();
            rows.proved += usize::from(plan.proved());
            gaps.push((plan.cost() - plan.bound) as f64 / plan.cost().max(1) as f64);
            if let Some(solved) = solved.get(&seed) {
                rows.compare(kind, seed, &plan, solved);
            }
        }
        times.sort();
        gaps.sort_by(f64::total_cmp);
        println!(
            "{kind:<16} {:>4} {:>7} {:>6}% {:>12.1}% {:>10.2?} {:>10.2?} {:>10.2?}",
            times.len(),
            outings / times.len(),
            100 * rows.proved / times.len(),
            100.0 * gaps[gaps.len() / 2],
            times[times.len() / 2],
            times[times.len() - 1],
            goal,
        );
        compared.push((kind, rows));
    }
    println!("\nkind             compared  below  equal  above  missed more   worst above, without missed");
    for (kind, rows) in &compared {
        println!(
            "{kind:<16} {:>8} {:>6} {:>6} {:>6} {:>12} {:>12.2}%",
            rows.below + rows.equal + rows.above,
            rows.below,
            rows.equal,
            rows.above,
            rows.missed_more,
            100.0 * rows.worst
        );
    }
    println!();
    compared.iter().flat_map(|(_, rows)| &rows.notes).for_each(|note| println!("{note}"));
    Ok(())
}

/// How the days of a kind compare.
#[derive(Default)]
struct Rows {
    proved: usize,
    below: usize,
    equal: usize,
    above: usize,
    missed_more: usize,
    worst: f64,
    notes: Vec<String>,
}

impl Rows {
    fn compare(&mut self, kind: &str, seed: usize, plan: &Plan, solved: &Solved) {
        let Parts { missed, .. } = plan.parts;
        let their_missed = solved.parts.get("missed").copied().unwrap_or(0);
        self.missed_more += usize::from(missed > their_missed);
        match plan.cost().cmp(&solved.cost) {
            std::cmp::Ordering::Less => self.below += 1,
            std::cmp::Ordering::Equal => self.equal += 1,
            std::cmp::Ordering::Greater => {
                self.above += 1;
                if missed == their_missed {
                    let (ours, theirs) = (plan.cost() - missed, solved.cost - their_missed);
                    self.worst = self.worst.max((ours - theirs) as f64 / theirs.max(1) as f64);
                }
                let Solved { status, cost, .. } = solved;
                self.notes.push(format!("{kind} {seed}: {} here, {cost} by CP-SAT ({status})", plan.cost()));
            }
        }
    }
}

fn reference() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("reference").join("plan")
}

fn days(kind: &str) -> Result<Vec<DayFile>, Box<dyn std::error::Error>> {
    let mut days = Vec::new();
    for seed in SEEDS {
        let output =
            Command::new("python3").arg(reference().join("days.py")).args([kind, &seed.to_string()]).output()?;
        if !output.status.success() {
            return Err(String::from_utf8_lossy(&output.stderr).into());
        }
        days.push(serde_json::from_slice(&output.stdout)?);
    }
    Ok(days)
}

fn solved(kind: &str) -> Result<BTreeMap<usize, Solved>, Box<dyn std::error::Error>> {
    let text = std::fs::read_to_string(reference().join(format!("{kind}.json")))?;
    let by_seed: BTreeMap<String, Solved> = serde_json::from_str(&text)?;
    by_seed.into_iter().map(|(seed, solved)| Ok((seed.parse()?, solved))).collect()
}
