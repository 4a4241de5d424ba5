//! How many messages a manager gets, and whether they are worth it: weeks of a made-up barn of twenty stalls with its people, and
//! what the hub told whom beside what was true and beside the goals.
//!
//! `tests/bench-alarms`, or `cargo run --profile try -p bellmare-tests --bin alarm_bench [SEED...]`; seeds 7, 8 and 9 where none is told. Goals
//! are printed and never asserted here; a shorter run of the same is a test.

use bellmare_barn::board::Priority;
use bellmare_tests::alarm_week::{Counts, score, week};
use bellmare_tests::water_world::{Season, World};

const STALLS: usize = 20;
const DAYS: u32 = 7;
/// A normal week has a tenth of the mishaps of a world that is made to try the hub: some three sensors that break, an outage,
/// a horse that will not drink every third week.
const NORMAL: f64 = 0.1;

fn main() {
    let told: Vec<u64> = std::env::args().skip(1).filter_map(|word| word.parse().ok()).collect();
    let seeds = if told.is_empty() { vec![7, 8, 9] } else { told };
    for (title, share, cuts) in [("normal weeks", NORMAL, 2), ("weeks of faults", 1.0, 8)] {
        let mut counts = Counts::default();
        for seed in &seeds {
            for (n, season) in (0..).zip([Season::Summer, Season::Winter]) {
                let world = World::new(seed * 2 + n, season, STALLS, DAYS).with_mishaps(share);
                score(&week(&world, seed * 2 + n, cuts), &mut counts);
            }
        }
        println!("{title}: seeds {seeds:?}, {STALLS} stalls, {} days, summer and winter", counts.days);
        print(&counts, share < 1.0);
        println!();
    }
}

fn print(counts: &Counts, is_normal: bool) {
    let days = f64::from(counts.days);
    println!("{:<58} {:>9}  {:<14} met", "measure", "result", "goal");
    let goal = |goal: f64| is_normal.then_some(goal);
    row("messages to the manager a day, digests left out", counts.manager.len() as f64 / days, goal(1.0));
    row("  of these false, in all", f64::from(counts.false_to_manager), goal(0.0));
    row("times that somebody had to be told and nobody was", counts.missed.len() as f64, Some(0.0));
    row("  of so many", f64::from(counts.needed), None);
    row("messages to anybody a day", f64::from(counts.messages) / days, None);
    row("  of these false, %", 100.0 * counts.false_messages.len() as f64 / f64::from(counts.messages.max(1)), None);
    row("most messages to one person in ten minutes", f64::from(counts.most_in_ten_min), Some(3.0));
    row("digests to the manager a day", f64::from(counts.digests) / days, None);
    row(
        "alarms a day (ISA-18.2, from memory: 144 for an operator)",
        f64::from(counts.all_alarms()) / days,
        Some(144.0),
    );
    row("  not true, %", 100.0 * f64::from(counts.false_alarms) / f64::from(counts.all_alarms().max(1)), None);
    for (priority, aim) in [(Priority::High, 5), (Priority::Medium, 15), (Priority::Low, 80)] {
        let [raised, last] = counts.shares(priority);
        row(&format!("  {priority:?} as raised, % (EEMUA 191: about {aim})"), raised, None);
        row(&format!("  {priority:?} in the end, %"), last, None);
    }
    println!("alarms by rule, as they were in the end: high, medium, low");
    for (rule, [high, medium, low]) in &counts.by_rule {
        println!("  {:<56} {high:>4} {medium:>4} {low:>4}", rule.says());
    }
    for missed in &counts.missed {
        println!("  missed: {missed}");
    }
    if is_normal {
        for line in &counts.manager {
            println!("  to the manager: {line}");
        }
        for line in &counts.false_messages {
            println!("  false: {line}");
        }
    }
}

fn row(what: &str, value: f64, at_most: Option<f64>) {
    let (goal, met) = match at_most {
        Some(goal) => (format!("at most {goal}"), if value <= goal { "yes" } else { "no" }),
        None => (String::new(), ""),
    };
    println!("{what:<58} {value:>9.2}  {goal:<14} {met}");
}
