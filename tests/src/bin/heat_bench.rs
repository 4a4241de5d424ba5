//! The forecast of heat, measured: a year of hourly air at three airports, beside "as it is now" and "as yesterday at that
//! hour", and beside what is asked of it. `tests/bench-truth` runs it. It ends with a failure where a goal is missed.

use std::process::ExitCode;
use std::time::Instant;

use bellmare_barn::heat::forecast::outlook::SAID_FROM;
use bellmare_barn::limits::Limits;
use bellmare_tests::airports::{CHANCES, Errors, LEADS, Year, airports};

/// By how much the mean error must be below the better of the other two, in percent, at one, two and three hours.
struct Goal {
    temperature: [f64; 3],
    sum: [f64; 3],
}

/// Over the whole year the sum is hard to better: what the temperature gains the humidity loses, and "as it is now" is
/// nearly right. By day in the warm months, when it matters, there is more to know.
const YEAR: Goal = Goal { temperature: [15.0, 25.0, 30.0], sum: [2.5, 6.0, 8.0] };
const WARM_DAYS: Goal = Goal { temperature: [20.0, 30.0, 35.0], sum: [6.0, 10.0, 13.0] };

fn main() -> ExitCode {
    match measure() {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(why) => {
            eprintln!("heat_bench: {why:#}");
            ExitCode::FAILURE
        }
    }
}

fn measure() -> anyhow::Result<bool> {
    let began = Instant::now();
    let limits = Limits::default().heat;
    let airports = airports()?;
    let names: Vec<_> = airports.iter().map(|airport| airport.name.as_str()).collect();
    let mut year = Year::default();
    airports.iter().for_each(|airport| airport.live(&limits, &mut year));
    let mut met = true;
    for (when, all, goal) in
        [("all hours of the year", &year.all, YEAR), ("May to September, 7:00 to 20:00", &year.warm_days, WARM_DAYS)]
    {
        println!("\n{when}; {} of 2013; {} forecasts", names.join(", "), all.hours);
        println!("mean absolute error   | ahead | forecast | as now | as yesterday | below the better one, goal");
        for (n, lead) in LEADS.iter().enumerate() {
            met &= line("temperature, °C", *lead, &all.leads[n].temperature, goal.temperature[n]);
        }
        for (n, lead) in LEADS.iter().enumerate() {
            met &= line("horse sum", *lead, &all.leads[n].sum, goal.sum[n]);
        }
        println!("range of the sum, 1 in 10 to 9 in 10 | ahead | came within (80 % is right) | mean width");
        for (score, lead) in all.leads.iter().zip(LEADS) {
            let count = score.sum.count() as f64;
            let (within, width) = (100.0 * score.within as f64 / count, score.width / count);
            println!(
                "                                     | {lead} h   | {within:>5.1} %                     | {width:>5.1}"
            );
        }
    }
    println!("\nbands reached within 3 h where they were not yet, the same days");
    println!("band     | called from a chance of | came | called of these | of calls, false | of quiet hours, called");
    for (calls, name) in year.bands.iter().zip(["watch", "critical"]) {
        for (calls, from) in calls.iter().zip(CHANCES) {
            let said = if from == SAID_FROM { ", as it is said" } else { "" };
            println!(
                "{name:<8} | {:<23} | {:>4} | {:>13.1} % | {:>13.1} % | {:>19.1} %",
                format!("{:.0} %{said}", 100.0 * from),
                calls.hits + calls.misses,
                calls.hit_rate(),
                calls.false_alarm_ratio(),
                calls.false_alarm_rate()
            );
        }
    }
    println!("\n{:.1} s", began.elapsed().as_secs_f64());
    Ok(met)
}

fn line(what: &str, lead: usize, errors: &Errors, goal: f64) -> bool {
    let [forecast, persistence, yesterday] = errors.means();
    let gain = errors.gain();
    let met = gain >= goal;
    let word = if met { "met" } else { "MISSED" };
    println!(
        "{what:<21} | {lead} h   | {forecast:>8.2} | {persistence:>6.2} | {yesterday:>12.2} | {gain:>6.1} %  goal {goal:>4.1} % {word}"
    );
    met
}
