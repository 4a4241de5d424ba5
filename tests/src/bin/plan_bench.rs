//! The prep plan measured: every kind of day, seeds 1 to 30, beside what CP-SAT found and beside the goals.
//!
//! `cargo run --release -p bellmare-tests --bin plan_bench`. Days come from `tests/reference/plan/days.py`; the stored
//! results of CP-SAT are `tests/reference/plan/*.json`, made by `make` there. Times are what one thread of this machine
//! worked (its processor time). Other work on the machine still slows that, by half at times; so all days are gone through
//! several times, and of each the quickest counts: the plan is the same every time. Only days that CP-SAT has solved are compared;
//! how many these are stands in the table.

use std::collections::BTreeMap;
use std::path::Path;
use std::process::{Command, ExitCode};
use std::time::Duration;

use bellmare_barn::plan::file::DayFile;
use bellmare_barn::plan::{Day, Effort, Plan, plan};
use serde::Deserialize;

const SEEDS: std::ops::RangeInclusive<usize> = 1..=30;
/// So many times all days are gone through.
const TIMES: usize = 5;

/// What is asked of a kind of day.
struct Goal {
    kind: &'static str,
    /// How long the longest plan may take.
    time: Duration,
    /// How far above CP-SAT the rest of the cost may be where as much is missed, in percent.
    above_at_most: f64,
    /// On how many of the days compared the cost has to be equal or better, in percent.
    no_worse_at_least: usize,
    /// On how many days the plan has to be proved, in percent.
    proved_at_least: usize,
}

const fn goal(kind: &'static str, micros: u64, above_at_most: f64, no_worse: usize, proved: usize) -> Goal {
    let time = Duration::from_micros(micros);
    Goal { kind, time, above_at_most, no_worse_at_least: no_worse, proved_at_least: proved }
}

const GOALS: [Goal; 8] = [
    goal("small", 10_000, 0.0, 100, 90),
    goal("typical", 50_000, 0.5, 90, 0),
    goal("busy", 250_000, 0.0, 100, 0),
    goal("camp", 1_000_000, 0.0, 100, 0),
    goal("small-replan", 2_500, 0.0, 100, 90),
    goal("typical-replan", 12_500, 0.5, 90, 0),
    goal("busy-replan", 62_500, 0.0, 100, 0),
    goal("camp-replan", 250_000, 0.0, 100, 0),
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
    let mut kinds = Vec::new();
    for goal in &GOALS {
        let mut days_of_kind = Vec::new();
        for (seed, file) in SEEDS.zip(days(goal.kind)?) {
            days_of_kind.push(Day::checked(&file).map_err(|faults| format!("{} {seed}: {faults:?}", goal.kind))?);
        }
        kinds.push((goal, days_of_kind, solved(goal.kind)?, Row::default()));
    }
    for time in 1..=TIMES {
        eprintln!("all days, {time} of {TIMES} times");
        for (goal, days, solved, row) in &mut kinds {
            for (at, (seed, day)) in SEEDS.zip(days.iter()).enumerate() {
                let began = processor_time();
                let plan = plan(day, Effort::for_day(day), &mut || true);
                let took = processor_time() - began;
                if let Some(quickest) = row.times.get_mut(at) {
                    *quickest = took.min(*quickest);
                    continue;
                }
                row.times.push(took);
                row.proved += usize::from(plan.proved());
                if let Some(solved) = solved.get(&seed) {
                    row.compare(goal.kind, seed, &plan, solved);
                }
            }
        }
    }
    println!(
        "                      |   time, one core, best of {TIMES} times   |               cost beside CP-SAT, 120 core-seconds a day"
    );
    println!(
        "kind             days |  median      max     goal              | days better equal worse  missed more  worst above            | proved"
    );
    let mut notes = Vec::new();
    for (goal, _, _, row) in &mut kinds {
        row.print(goal);
        notes.append(&mut row.notes);
    }
    println!("\nWhere CP-SAT was better:");
    notes.iter().for_each(|note| println!("{note}"));
    Ok(())
}

/// How long this thread has worked so far.
fn processor_time() -> Duration {
    let time = rustix::time::clock_gettime(rustix::time::ClockId::ThreadCPUTime);
    Duration::new(time.tv_sec.unsigned_abs(), time.tv_nsec.unsigned_abs() as u32)
}

/// How the days of a kind went.
#[derive(Default)]
struct Row {
    times: Vec<Duration>,
    proved: usize,
    better: usize,
    equal: usize,
    worse: usize,
    missed_more: usize,
    worst_above: f64,
    notes: Vec<String>,
}

impl Row {
    fn compare(&mut self, kind: &str, seed: usize, plan: &Plan, solved: &Solved) {
        let missed = plan.parts.missed;
        let their_missed = solved.parts.get("missed").copied().unwrap_or(0);
        self.missed_more += usize::from(missed > their_missed);
        let Solved { status, cost, .. } = solved;
        match plan.cost().cmp(cost) {
            std::cmp::Ordering::Less => self.better += 1,
            std::cmp::Ordering::Equal => self.equal += 1,
            std::cmp::Ordering::Greater => {
                self.worse += 1;
                if missed == their_missed {
                    let (ours, theirs) = (plan.cost() - missed, cost - their_missed);
                    self.worst_above = self.worst_above.max(100.0 * (ours - theirs) as f64 / theirs.max(1) as f64);
                }
                self.notes.push(format!("{kind} {seed}: {} here, {cost} by CP-SAT ({status})", plan.cost()));
            }
        }
        if plan.bound > *cost {
            self.notes.push(format!("{kind} {seed}: WRONG, a bound of {} over {cost} by CP-SAT", plan.bound));
        }
    }

    fn print(&mut self, goal: &Goal) {
        self.times.sort();
        let days = self.times.len();
        let (median, max) = (self.times[days / 2], self.times[days - 1]);
        let compared = self.better + self.equal + self.worse;
        let cost_met = self.missed_more == 0
            && self.worst_above <= goal.above_at_most
            && 100 * (self.better + self.equal) >= goal.no_worse_at_least * compared;
        let proved_met = 100 * self.proved >= goal.proved_at_least * days;
        let ms = |time: Duration| time.as_secs_f64() * 1000.0;
        println!(
            "{:<16} {days:>4} | {:>7.2} {:>8.2} {:>7.1} ms  {} | {compared:>4} {:>6} {:>5} {:>5} {:>12} {:>11.2} %  {} | {:>3} of {days}{}",
            goal.kind,
            ms(median),
            ms(max),
            ms(goal.time),
            met(max <= goal.time),
            self.better,
            self.equal,
            self.worse,
            self.missed_more,
            self.worst_above,
            met(cost_met),
            self.proved,
            if goal.proved_at_least > 0 { format!("  {}", met(proved_met)) } else { String::new() },
        );
    }
}

fn met(met: bool) -> &'static str {
    if met { "met    " } else { "not met" }
}

fn reference() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("reference").join("plan")
}

fn days(kind: &str) -> Result<Vec<DayFile>, Box<dyn std::error::Error>> {
    let mut days = Vec::new();
    for seed in SEEDS {
        let mut python = Command::new("python3");
        python.arg("-B").arg(reference().join("days.py")).args([kind, &seed.to_string()]);
        let output = python.output()?;
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
