//! What was told beside what was true.

use std::collections::BTreeMap;

use bellmare_barn::alarm::cause::Rule;
use bellmare_barn::alarm::record::Record as Row;
use bellmare_barn::board::{AlarmWhat, Priority};
use bellmare_barn::tell::message::{About, Message, To};

use super::{Week, seconds};
use crate::water_score::feed::stall_of;
use crate::water_world::{Fault, Record, Trouble};

/// Water this far over the limit is near enough: a sensor errs by some millimetres.
const NEAR: f32 = 0.05;
const HOUR: f64 = 3600.0;

/// What was counted.
#[derive(Clone, Default, Debug)]
pub struct Counts {
    /// Days.
    pub days: u32,
    /// Messages to the manager, digests left out; each: when in days, and what.
    pub manager: Vec<String>,
    /// Digests to the manager.
    pub digests: u32,
    /// Messages to anybody, digests left out.
    pub messages: u32,
    /// Of those that ask for something: told of an alarm that was not true.
    pub false_messages: Vec<String>,
    /// And of these, to the manager.
    pub false_to_manager: u32,
    /// Alarms: high, medium, low, as they were raised.
    pub raised: [u32; 3],
    /// The same as they were in the end: here nobody fills a bucket because he was told.
    pub alarms: [u32; 3],
    /// And by rule.
    pub by_rule: BTreeMap<Rule, [u32; 3]>,
    /// Alarms that were not true.
    pub false_alarms: u32,
    /// Times that somebody had to be told: water gone, a line cut for over a minute.
    pub needed: u32,
    /// Those of which nobody was told.
    pub missed: Vec<String>,
    /// The most messages to one person within ten minutes.
    pub most_in_ten_min: u32,
    /// Rows of the history without an end, though their alarm does not stand.
    pub rows: u32,
}

/// Counts a week.
pub fn score(week: &Week, counts: &mut Counts) {
    counts.days += week.days;
    counts.rows += u32::try_from(week.rows.len()).unwrap_or(u32::MAX);
    for row in week.rows.values() {
        let raised_as = week.raised_as.get(&row.alarm.id).copied().unwrap_or(row.alarm.priority);
        counts.raised[raised_as as usize] += 1;
        counts.alarms[row.alarm.priority as usize] += 1;
        counts.by_rule.entry(row.cause.rule()).or_default()[row.alarm.priority as usize] += 1;
        counts.false_alarms += u32::from(!is_true(week, row));
    }
    for message in &week.messages {
        let To::Person(person) = &message.to else { continue };
        let to_manager = person.as_str() == "mara";
        if matches!(message.about, About::Digest(_)) {
            counts.digests += u32::from(to_manager);
            continue;
        }
        counts.messages += 1;
        let line = line(message);
        if to_manager {
            counts.manager.push(line.clone());
        }
        let asks = !matches!(message.about, About::Taken | About::Ended);
        let all_false =
            message.alarms.iter().all(|told| week.rows.get(&told.alarm.id).is_some_and(|row| !is_true(week, row)));
        if asks && all_false {
            counts.false_messages.push(line);
            counts.false_to_manager += u32::from(to_manager);
        }
    }
    counts.most_in_ten_min = counts.most_in_ten_min.max(most_in_ten_min(&week.messages));
    missed(week, counts);
}

fn line(message: &Message) -> String {
    let about = match &message.about {
        About::Climbed { untaken_min } => format!("untaken for {untaken_min} min"),
        About::Many { raised } => format!("{raised} in ten minutes"),
        other => format!("{other:?}").to_lowercase(),
    };
    let what: Vec<String> = message.alarms.iter().map(|told| told.alarm.what.to_string()).collect();
    let To::Person(person) = &message.to else { return String::new() };
    format!("day {:.2}, {person}, {about}: {}", seconds(message.made) / 86_400.0, what.join(" | "))
}

fn most_in_ten_min(messages: &[Message]) -> u32 {
    let asks = |message: &&Message| !matches!(message.about, About::Digest(_)) && message.to != To::Everyone;
    let within = |first: &Message| {
        let from = seconds(first.made);
        messages
            .iter()
            .filter(asks)
            .filter(|other| other.to == first.to && (from..from + 600.0).contains(&seconds(other.made)))
            .count()
    };
    u32::try_from(messages.iter().filter(asks).map(within).max().unwrap_or(0)).unwrap_or(u32::MAX)
}

/// Whether what an alarm says was so when it was raised.
fn is_true(week: &Week, row: &Row) -> bool {
    let at = seconds(row.alarm.raised);
    let cut = |slack: f64| week.truth.cuts.iter().any(|(from, to)| (*from..*to + slack).contains(&at));
    let Some(stall) = stall_of(&row.alarm.what).and_then(|stall| week.stalls.get(stall)) else {
        return match &row.alarm.what {
            AlarmWhat::BrokerDown => cut(60.0),
            AlarmWhat::LateHorses { .. } => week.truth.late.iter().any(|mount| (at - mount).abs() < HOUR),
            AlarmWhat::ManySilent { .. } | AlarmWhat::ClockUnset | AlarmWhat::DiskNearlyFull { .. } => false,
            // No horse is taken out.
            AlarmWhat::NoHorse { .. } => false,
            AlarmWhat::NobodyHere { .. } | AlarmWhat::NobodyFor { .. } => {
                week.truth.unattended.iter().any(|lesson| (at - lesson).abs() < HOUR)
            }
            // The weather's: it is what its one sensor says.
            _ => true,
        };
    };
    let limits = &week.limits.water;
    let over = |from: f64, to: f64, slack: f64| from <= at && at <= to + slack;
    let troubled = |faults: &[Fault], slack: f64| {
        stall.troubles.iter().any(|Trouble { fault, from, to, .. }| faults.contains(fault) && over(*from, *to, slack))
    };
    let gone = |percent: f64| lowest(stall, at - 0.6 * HOUR, at) <= (percent / 100.0) as f32 + NEAR;
    match &row.alarm.what {
        AlarmWhat::BucketEmpty { .. } => gone(limits.empty.get()),
        AlarmWhat::BucketLow { .. } => gone(limits.low.get()),
        AlarmWhat::Ice { .. } => stall.frozen.iter().any(|span| over(span.from, span.to, 2.0 * HOUR)),
        AlarmWhat::NotDrinking { .. } | AlarmWhat::DrinksLittle { .. } | AlarmWhat::DrinksMuch { .. } => {
            let dry = |from: f64| {
                (0..480).all(|m| lowest(stall, from + f64::from(m) * 60.0, from + f64::from(m) * 60.0) < 0.1)
            };
            stall.refuses.iter().any(|span| over(span.from, span.to, 24.0 * HOUR))
                || stall.frozen.iter().any(|span| over(span.from, span.to, 12.0 * HOUR))
                || dry(at - 8.0 * HOUR)
                || undrunk(stall, at, limits.not_drinking_after.0)
        }
        AlarmWhat::Leak { .. } => {
            stall.leaks.iter().any(|span| over(span.from, span.to, HOUR)) || troubled(&[Fault::DriftsDown], HOUR)
        }
        AlarmWhat::SensorFaulty { .. } => {
            troubled(&[Fault::Stuck, Fault::DriftsUp, Fault::DriftsDown, Fault::Blocked, Fault::TurnedAway], HOUR)
        }
        AlarmWhat::SensorSilent { .. } => {
            stall.outages.iter().any(|span| over(span.from, span.to, HOUR))
                || troubled(&[Fault::Silent], HOUR)
                || cut(HOUR)
        }
        AlarmWhat::BatteryLow { .. } => troubled(&[Fault::Battery], HOUR),
        _ => true,
    }
}

/// Whether a horse really drank nothing for so many minutes, as far as it was in.
fn undrunk(stall: &Record, at: f64, minutes: u32) -> bool {
    let from = at - f64::from(minutes) * 60.0;
    !stall.drinks.iter().any(|drink| drink.to > from && drink.from < at - 1200.0)
}

/// The lowest share of water between two times.
fn lowest(stall: &Record, from: f64, to: f64) -> f32 {
    let minute = |time: f64| ((time / 60.0).max(0.0) as usize).min(stall.share.len().saturating_sub(1));
    stall.share[minute(from)..=minute(to)].iter().copied().fold(1.0, f32::min)
}

/// Times of which somebody had to be told, and nobody was.
fn missed(week: &Week, counts: &mut Counts) {
    // An alarm that stood at some time between, and of which somebody was told by then.
    let told_between = |from: f64, to: f64, of: &dyn Fn(&AlarmWhat) -> bool| {
        week.rows.values().any(|row| {
            let stood = row.ended.as_ref().is_none_or(|(ended, _)| seconds(*ended) >= from);
            let tells = |message: &Message| {
                matches!(message.to, To::Person(_))
                    && seconds(message.made) < to
                    && message.alarms.iter().any(|told| told.alarm.id == row.alarm.id)
            };
            stood && of(&row.alarm.what) && week.messages.iter().any(tells)
        })
    };
    for (from, to) in week.truth.cuts.iter().filter(|(from, to)| to - from > 60.0) {
        counts.needed += 1;
        if !told_between(*from, *to + 120.0, &|what| *what == AlarmWhat::BrokerDown) {
            counts.missed.push(format!("the line was cut on day {:.3} for {:.0} s", from / 86_400.0, to - from));
        }
    }
    let empty = (week.limits.water.empty.get() / 100.0) as f32 - 0.03;
    let wait = week.limits.water.empty_alarm_after.0 as usize + 25;
    for (n, stall) in week.stalls.iter().enumerate() {
        let mut since = None;
        for (minute, share) in stall.share.iter().enumerate() {
            if *share > empty {
                since = None;
                continue;
            }
            let from = *since.get_or_insert(minute);
            if minute != from + wait {
                continue;
            }
            let (from, to) = (from as f64 * 60.0, minute as f64 * 60.0);
            if is_blind(week, stall, from, to) {
                continue;
            }
            counts.needed += 1;
            let named = n + 1;
            let of = |what: &AlarmWhat| matches!(what, AlarmWhat::BucketEmpty { stall, .. } if stall.as_str() == named.to_string());
            if !told_between(from, to + 600.0, &of) {
                counts.missed.push(format!("stall {named} was empty from day {:.3} on", from / 86_400.0));
            }
        }
    }
}

/// Whether no sensor could have told what was in a stall then: it was broken, unheard or cut off, or speaks but seldom.
fn is_blind(week: &Week, stall: &Record, from: f64, to: f64) -> bool {
    let apart = |begin: f64, end: f64| end + HOUR < from || begin > to;
    stall.troubles.iter().any(|one| one.fault != Fault::Battery && !apart(one.from, one.to))
        || stall.outages.iter().any(|span| !apart(span.from, span.to))
        || week.truth.cuts.iter().any(|(begin, end)| !apart(*begin, *end))
        || stall.frozen.iter().any(|span| !apart(span.from, span.to))
}

impl Counts {
    /// Alarms of all priorities.
    pub fn all_alarms(&self) -> u32 {
        self.alarms.iter().sum()
    }

    /// The share of a priority in percent, as alarms were raised and as they were in the end.
    pub fn shares(&self, priority: Priority) -> [f64; 2] {
        let share = |of: u32| 100.0 * f64::from(of) / f64::from(self.all_alarms().max(1));
        [share(self.raised[priority as usize]), share(self.alarms[priority as usize])]
    }
}
