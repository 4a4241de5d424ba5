//! The morning's digest: what stands, what came often, what nobody took, which batteries are low, and the barn's own alarm rate
//! beside what is published, with the rules that talk most and the limit to change in each.

use std::collections::{BTreeMap, BTreeSet};

use super::message::{Digest, Rate, Talker};
use super::teller::{Teller, Times};
use super::words;
use crate::alarm::cause::{Cause, Rule};
use crate::alarm::record::Record;
use crate::alarm::{Alarms, whole_minutes};
use crate::board::Priority;
use crate::input::Sensor;
use crate::limits::Limits;
use crate::time::{Mono, Now, Today, Zone};
use crate::units::Percent;

/// A list in a digest is no longer than this: nobody reads on.
const LISTED_MOST: usize = 20;
/// Rules that talk most.
const TALKERS: usize = 3;
/// A battery that has no more than this over its limit should be changed soon.
const SOON_PERCENT: f64 = 10.0;
const TEN_MIN_MS: u64 = 600_000;
const DAY_MS: u64 = 24 * 3_600_000;

/// What is published of alarm rates, a line each.
const TARGETS: [&str; 4] = [
    "EEMUA 191, by a vendor's reprint: an average of 1 in ten minutes is manageable, 10 in ten minutes are a flood.",
    "EEMUA 191, by an article: about 5 % high, 15 % medium, 80 % low.",
    "ISA-18.2 / IEC 62682, from memory: about 144 a day are acceptable, 288 the most; under 5 stale, none that chatter.",
    "These are for a console operator who does nothing else: a barn should have far fewer.",
];

/// When the next digest is due: at its time today, or tomorrow where that is past or today's has been sent.
pub fn next(now: Now, teller: &Teller, limits: &Limits) -> Option<Mono> {
    let today = Today::of(limits.zone, now)?;
    let at = |date| {
        let wall = limits.zone.instant(date, limits.tell.digest_at);
        u64::try_from(wall.since(now.wall.get()?)).ok().filter(|ahead| *ahead > 0).map(|ahead| now.mono.plus(ahead))
    };
    let date = today.day().date();
    let sent = teller.digested() == Some(date);
    at(date).filter(|_| !sent).or_else(|| at(date.succ_opt()?))
}

/// Whether there is something to say.
pub fn is_worth_sending(digest: &Digest) -> bool {
    digest.heartbeat
        || digest.rate.raised > 0
        || !(digest.standing.is_empty() && digest.batteries.is_empty() && digest.out_of_service.is_empty())
}

/// What was since that time.
pub fn digest(
    since: Mono,
    batteries: Vec<(Sensor, Percent)>,
    alarms: &Alarms,
    teller: &Teller,
    at: &Times<'_>,
) -> Option<Digest> {
    let date = Today::of(at.limits.zone, at.now)?.day().date();
    let raised: Vec<&Record> = alarms.records().filter(|record| record.alarm.raised.mono >= since).collect();
    let mut standing: Vec<&Record> = alarms.records().filter(|record| record.ended.is_none()).collect();
    standing.sort_by_key(|record| (record.alarm.priority, record.alarm.id));
    let low = at.limits.sensors.battery_low.get() + SOON_PERCENT;
    let mut batteries: Vec<_> = batteries.into_iter().filter(|(_, left)| left.get() <= low).collect();
    batteries.sort_by(|a, b| a.1.get().total_cmp(&b.1.get()).then_with(|| a.0.cmp(&b.0)));
    let untaken = raised.iter().filter(|record| record.alarm.priority != Priority::Low && record.seen.is_none());
    let lows = raised.iter().filter(|record| record.alarm.priority == Priority::Low);
    Some(Digest {
        date,
        heartbeat: Zone::weekday(date) == at.limits.tell.heartbeat_on,
        hours: whole_minutes(at.now.mono.since(since)) / 60,
        standing: standing.iter().take(LISTED_MOST).map(|record| teller.told(record, at)).collect(),
        often: often(&raised),
        untaken: lines(untaken.copied()),
        low: lines(lows.copied()),
        batteries,
        out_of_service: at.limits.alarms.out_of_service.iter().map(ToString::to_string).collect(),
        rate: rate(&raised, &standing, teller.messages(), at.now.mono),
        talkers: talkers(&raised),
    })
}

/// What and where, once each.
fn lines<'a>(records: impl Iterator<Item = &'a Record>) -> Vec<String> {
    let mut seen = BTreeSet::new();
    let fresh = records.filter(|record| seen.insert(record.cause.clone()));
    fresh.take(LISTED_MOST).map(|record| words::line(&record.alarm.what)).collect()
}

fn often(raised: &[&Record]) -> Vec<(String, u32)> {
    let mut counts: BTreeMap<&Cause, (u32, &Record)> = BTreeMap::new();
    for record in raised {
        let count = counts.entry(&record.cause).or_insert((0, record));
        *count = (count.0 + 1, record);
    }
    let mut list: Vec<_> = counts.into_values().filter(|(times, _)| *times > 1).collect();
    list.sort_by_key(|(times, record)| (std::cmp::Reverse(*times), record.alarm.id));
    list.into_iter().take(LISTED_MOST).map(|(times, record)| (words::line(&record.alarm.what), times)).collect()
}

fn rate(raised: &[&Record], standing: &[&Record], messages: u32, now: Mono) -> Rate {
    let count = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
    let of = |priority| count(raised.iter().filter(|record| record.alarm.priority == priority).count());
    let mut times: Vec<Mono> = raised.iter().map(|record| record.alarm.raised.mono).collect();
    times.sort_unstable();
    let within = |from: usize| times[from..].iter().take_while(|at| at.since(times[from]) < TEN_MIN_MS).count();
    Rate {
        raised: count(raised.len()),
        by_priority: [of(Priority::High), of(Priority::Medium), of(Priority::Low)],
        most_in_ten_min: count((0..times.len()).map(within).max().unwrap_or(0)),
        stale: count(standing.iter().filter(|record| now.since(record.alarm.raised.mono) > DAY_MS).count()),
        chattering: count(raised.iter().filter(|record| record.chattered).count()),
        messages,
        targets: TARGETS.map(str::to_owned).to_vec(),
    }
}

fn talkers(raised: &[&Record]) -> Vec<Talker> {
    let mut counts: BTreeMap<Rule, u32> = BTreeMap::new();
    for record in raised {
        *counts.entry(record.cause.rule()).or_default() += 1;
    }
    let mut list: Vec<_> = counts.into_iter().collect();
    list.sort_by_key(|(rule, times)| (std::cmp::Reverse(*times), *rule));
    let talker =
        |(rule, times): (Rule, u32)| Talker { rule: rule.says().to_owned(), times, change: change(rule).to_owned() };
    list.into_iter().take(TALKERS).map(talker).collect()
}

/// What to look at, and which limit to change.
fn change(rule: Rule) -> &'static str {
    match rule {
        Rule::Empty => "Fill earlier, or hang a larger bucket; limits.water.empty_alarm_after_min, empty_percent",
        Rule::Low => "Fill earlier; limits.water.low_percent, low_alarm_after_min",
        Rule::Leak => "Look at the vessel and its sensor; measure the vessel anew in buckets.csv",
        Rule::Ice => "limits.water.ice_below_c, ice_after_min",
        Rule::NotDrinking => "limits.water.not_drinking_after_min, not_drinking_at_most_min",
        Rule::Drinks => "limits.water.drinks_little_percent, drinks_much_percent, amount_alarm_after_min",
        Rule::Faulty => "Clean or replace the sensor; meanwhile limits.alarms.out_of_service",
        Rule::Heat => "limits.heat.alarm_after_min, deadband_sum; the bands themselves are US Equestrian's",
        Rule::PeopleHeat => "limits.heat.people_deadband_f; the ladder itself is the weather service's",
        Rule::HeatAhead => "limits.heat.lesson_ahead_min",
        Rule::ClimateDoubt => "Move the sensor out of the sun; limits.heat.doubt_apart_c, doubt_after_min",
        Rule::Frost => "limits.frost.near_c, alarm_after_min",
        Rule::Silent => {
            "Look at radio and power; limits.sensors.silent_after_gaps, silent_at_least_min, limits.alarms.silent_pressing_min"
        }
        Rule::Battery => "Change the batteries; limits.sensors.battery_low_percent",
        Rule::Vitals => "Write down the horse's own resting values in horses.csv",
        Rule::Wrong => "Nothing: people said so",
        Rule::Hay => "See who answers for hay",
        Rule::Late => "Plan more hands; limits.alarms.late_min, limits.lessons.ready_lead_min",
        Rule::NobodyFor => "Plan more hands, or fewer rides",
        Rule::NoHorse => "Say who goes as soon as a horse is taken out",
        Rule::NobodyHere => "Have people sign in; limits.alarms.nobody_before_min",
        Rule::Clock => "Look at the network, or give the hub a clock with a battery; limits.alarms.clock_after_min",
        Rule::Disk => "A larger disk; limits.alarms.disk_low_mib",
        Rule::Broker => "Look at network and broker",
        Rule::Journal => "Look at the hub's disk",
    }
}
