//! How true the water is: a barn of made-up horses, buckets and sensors is played through the hub's core, and what the hub
//! said is printed beside what was true and beside the goals.
//!
//! `tests/bench-truth water`, or `cargo run --profile try -p bellmare-tests --bin water_bench [SEED...]`; seeds 62 to 73 where none is
//! told, as the constants of the core were chosen on 1 to 61. For each seed two barns of twenty stalls for twenty days, in
//! summer and in winter. Goals are printed and never asserted here; a smaller run of the same is a test.

use bellmare_barn::limits::Limits;
use bellmare_tests::water_score::{Counts, feed, score};
use bellmare_tests::water_world::{Fault, Season, World};

const STALLS: usize = 20;
const DAYS: u32 = 20;

fn main() {
    let told: Vec<u64> = std::env::args().skip(1).filter_map(|word| word.parse().ok()).collect();
    let seeds = if told.is_empty() { (62..=73).collect() } else { told };
    let limits = Limits::default();
    let mut counts = Counts::default();
    for seed in &seeds {
        for (n, season) in (0..).zip([Season::Summer, Season::Winter]) {
            let world = World::new(seed * 2 + n, season, STALLS, DAYS);
            for (stall, (told, record)) in world.stalls.iter().zip(feed(&world, limits.clone())) {
                score(stall, &told, &record, &limits, &mut counts);
            }
        }
    }
    println!(
        "water: seeds {seeds:?}, {} stall-days, {:.0} of them with a sensor that was healthy and heard",
        counts.stall_days, counts.healthy_days
    );
    goals(&counts);
    besides(&counts);
}

fn goals(counts: &Counts) {
    println!("{:<58} {:>9}  {:<14} met", "measure", "result", "goal");
    let mut all: Vec<f64> = counts.litres.iter().chain(&counts.litres_slow).copied().collect();
    at_most("litres drunk per day, error, median, %", 100.0 * centile(&mut all, 0.5), 3.0);
    at_most("litres drunk per day, error, 95th centile, %", 100.0 * centile(&mut all, 0.95), 8.0);
    for (pace, litres) in [("every minute", &counts.litres), ("once in ten", &counts.litres_slow)] {
        let mut litres = litres.clone();
        at_most(&format!("  a reading {pace}: median, %"), 100.0 * centile(&mut litres, 0.5), 3.0);
        at_most(&format!("  a reading {pace}: 95th centile, %"), 100.0 * centile(&mut litres, 0.95), 8.0);
    }
    at_least("refills found, %", percent(counts.refills.1, counts.refills.0), 99.5);
    at_most("refills false in 100 stall-days", 100.0 * f64::from(counts.refills.2) / counts.healthy_days, 1.0);
    at_least("bouts of at least 1 litre found, %", percent(counts.drinks.1, counts.drinks.0), 97.0);
    at_most("bouts of at least 1 litre false, %", percent(counts.drinks.2, counts.drinks.0), 3.0);
    at_least("empty and not refilled found, %", percent(counts.empties.1, counts.empties.0), 100.0);
    let late = counts.late.iter().copied().fold(0.0, f64::max);
    at_most("empty and not refilled, latest after the set time, intervals", late, 2.0);
    let weeks = counts.healthy_days / f64::from(7 * STALLS as u32);
    at_most("false alarms of every kind in a week of 20 stalls", counts.false_alarms.len() as f64 / weeks, 1.0);
    let named = counts.faults.iter().filter(|fault| fault.1).count() as u32;
    at_least("faulty sensors named rightly within 2 h, %", percent(named, counts.faults.len() as u32), 95.0);
}

fn besides(counts: &Counts) {
    println!("\nbesides, with no goal");
    for fault in Fault::ALL {
        let of: Vec<_> = counts.faults.iter().filter(|one| one.0 == fault).collect();
        let mut minutes: Vec<f64> = of.iter().map(|one| one.2).collect();
        let named = of.iter().filter(|one| one.1).count();
        println!(
            "  {fault:?}: {named} of {} named in time, half of them by {:.0} min",
            of.len(),
            centile(&mut minutes, 0.5)
        );
    }
    println!("  leaks told: {} of {}", counts.leaks.1, counts.leaks.0);
    println!("  horses that would not drink, told: {} of {}", counts.refusals.1, counts.refusals.0);
    println!("  ice of four hours or more told: {} of {}", counts.ice.1, counts.ice.0);
    println!("  drinks that fell together with a refill, not asked for: {}", counts.masked);
    let mut off = counts.dry_off.clone();
    println!(
        "  when it will be empty: the range held the truth {:.0} % of {} times (made to: 80), the middle was off by {:.0} min, median",
        percent(counts.dry.1, counts.dry.0),
        counts.dry.0,
        centile(&mut off, 0.5)
    );
    for (from, to) in &counts.missed {
        println!("  empty and not told: day {:.3} to {:.3}", from / 86_400.0, to / 86_400.0);
    }
    for (what, at) in &counts.false_alarms {
        println!("  false alarm on day {:.2}: {what}", at / 86_400.0);
    }
}

fn at_least(what: &str, value: f64, goal: f64) {
    row(what, value, &format!("at least {goal}"), value >= goal);
}

fn at_most(what: &str, value: f64, goal: f64) {
    row(what, value, &format!("at most {goal}"), value <= goal);
}

fn row(what: &str, value: f64, goal: &str, met: bool) {
    println!("{what:<58} {value:>9.2}  {goal:<14} {}", if met { "yes" } else { "no" });
}

fn percent(part: u32, whole: u32) -> f64 {
    100.0 * f64::from(part) / f64::from(whole.max(1))
}

/// The value under which such a share of them lies; nothing of none.
fn centile(values: &mut [f64], share: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(((values.len().max(1) - 1) as f64 * share) as usize).copied().unwrap_or(0.0)
}
