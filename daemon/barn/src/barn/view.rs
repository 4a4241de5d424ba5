//! What a screen shows, computed whole from the barn. Nothing here changes anything.

use crate::alarm::{Alarms, Shelf, Standing, State, whole_minutes};
use crate::barn::Barn;
use crate::barn::heard::LineState;
use crate::board::{
    AlarmLine, AlarmWhat, AsideView, Board, Clock, HeatBand, HubState, LineView, PeopleBand, PersonView, SensorView,
    StallView, UnknownTap, VERSION,
};
use crate::book::{Book, Stall, WaterPlace};
use crate::care::vitals::Urgency;
use crate::input::ClockSource;
use crate::prep::readiness::readiness;
use crate::time::{Mono, Now, TimeOfDay, Today, WallClock, listed};
use crate::water::bucket::Fault;

use super::day_view::Shown;
use super::{aisle_view, water_view};

pub(super) fn board(barn: &Barn, now: Now) -> Board {
    let today = Today::of(barn.limits.zone, now);
    let live = today.as_ref().map(|today| barn.live(today));
    let readiness = live.as_ref().map_or_else(Vec::new, |live| readiness(&barn.known(), live));
    let heat = &barn.limits.heat;
    let standing = live.as_ref().map_or_else(Vec::new, |live| barn.known().standing(live));
    let dry = today.as_ref().map_or_else(Default::default, |today| water_view::dry(barn, today, now.mono));
    let coldest = barn.coldest(now.mono);
    let day = Shown { barn, live, readiness, standing, dry, coldest };
    Board {
        version: VERSION,
        barn: barn.limits.barn.clone(),
        units: barn.limits.units,
        clock: today.as_ref().map_or(Clock::Unset, |today| {
            let day = today.day();
            Clock::Set { date: day.date(), time: day.time(today.now()) }
        }),
        clock_by_hand: barn.clock_source == ClockSource::ByHand && today.is_some(),
        hub: HubState { broker: line(&barn.broker, now.mono), journal: line(&barn.journal, now.mono) },
        alarms: alarms(barn, now.mono),
        aside: aside(barn, now),
        stalls: barn.book.stalls.iter().map(|stall| stall_view(&day, stall, today.as_ref(), now)).collect(),
        paddocks: water_view::paddocks(barn, now),
        round: water_view::round(&day, today.as_ref(), now.mono),
        lessons: day.lessons(),
        heat: barn.heat_view(now),
        heat_today: barn.heat_today(now),
        heat_bands: vec![heat.watch, heat.critical, heat.stop],
        next: day.next(),
        missed: day.missed(),
        chores: aisle_view::chores(barn, today.as_ref(), now),
        hay: aisle_view::hay(barn, now.mono),
        steps: aisle_view::steps(barn),
        people: people(barn, now),
        taps: barn
            .shift
            .unknown()
            .iter()
            .map(|unknown| UnknownTap {
                badge: unknown.badge.clone(),
                reader: unknown.reader.clone(),
                ago_s: u32::try_from(now.mono.since(unknown.at) / 1000).unwrap_or(u32::MAX),
            })
            .collect(),
        tapped: aisle_view::tapped(barn, now.mono),
        unplaced: 0,
        refused: barn.refused,
    }
}

pub(super) fn sensors(barn: &Barn, now: Now) -> Vec<SensorView> {
    let ago = |at: Mono| now.mono.since(at) / 1000;
    barn.sensors
        .iter()
        .map(|(sensor, heard)| SensorView {
            sensor: sensor.clone(),
            heard_s_ago: heard.last().map(ago),
            changed_s_ago: heard.last_changed().map(ago),
            cadence_s: heard.cadence().map(|gap| gap / 1000),
            silent: heard.is_silent(&barn.limits.sensors, now.mono),
            battery: heard.battery().map(|left| tenth(left.get())),
            signal: heard.signal().map(|strength| tenth(strength.get())),
        })
        .collect()
}

fn line(state: &LineState, now: Mono) -> LineView {
    match state {
        LineState::Starting => LineView::Starting,
        LineState::Up(_) => LineView::Up,
        LineState::Down(since, why) => LineView::Down { for_min: whole_minutes(now.since(*since)), why: why.clone() },
    }
}

fn alarms(barn: &Barn, now: Mono) -> Vec<AlarmLine> {
    barn.alarms.standing().into_iter().map(|standing| alarm_line(barn, standing, now)).collect()
}

fn aside(barn: &Barn, now: Now) -> Vec<AlarmLine> {
    let line = |(standing, shelf): (&Standing, &Shelf)| AlarmLine {
        aside: Some(AsideView {
            by: name_of(&barn.book, &shelf.by),
            until: local_time(barn, shelf.until, now),
            why: shelf.why,
        }),
        ..alarm_line(barn, standing, now.mono)
    };
    barn.alarms.shelved().into_iter().map(line).collect()
}

fn alarm_line(barn: &Barn, standing: &Standing, now: Mono) -> AlarmLine {
    let alarm = &standing.alarm;
    let seen_by = match &standing.state {
        State::Acknowledged(person) => Some(name_of(&barn.book, person)),
        State::Unacknowledged | State::Returned | State::Shelved(_) => None,
    };
    let told = barn.alarms.record(alarm.id).map_or_else(Vec::new, |record| record.told.clone());
    AlarmLine {
        id: alarm.id,
        priority: alarm.priority,
        what: alarm.what.clone(),
        text: alarm.what.to_string(),
        for_min: Alarms::minutes(alarm, now),
        seen_by,
        over: standing.state == State::Returned,
        aside: None,
        told: told.iter().map(|(person, _)| name_of(&barn.book, person)).collect(),
        chattering: standing.chattering,
    }
}

pub(super) fn name_of(book: &Book, person: &crate::id::PersonId) -> String {
    book.people.get(person).map_or_else(|| person.to_string(), |person| person.name.clone())
}

fn stall_view(day: &Shown<'_>, stall: &Stall, today: Option<&Today>, now: Now) -> StallView {
    let barn = day.barn;
    let horse = barn.horse_at(&stall.id);
    let place = WaterPlace::Stall(stall.id.clone());
    StallView {
        id: stall.id.clone(),
        aisle: stall.aisle.clone(),
        side: stall.side,
        water: water_view::water(barn, &place, now.mono),
        drinking: horse.and_then(|horse| water_view::drinking(day, horse, today, now.mono)),
        cleaned: aisle_view::cleaned(barn, &stall.id, now),
        filled: aisle_view::filled(barn, &place, now),
        horse: horse.map(|horse| day.horse(horse, now.mono)),
    }
}

/// To one decimal: more would make boards differ that look the same.
pub(super) fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

/// A minute of the day as a time; what would fall before midnight is held there.
fn clock_time(minute: i64) -> TimeOfDay {
    let held = minute.clamp(0, 1439) as u16;
    TimeOfDay::from_minutes(held).unwrap_or(TimeOfDay::ELEVEN_PM)
}

fn people(barn: &Barn, now: Now) -> Vec<PersonView> {
    let mut list: Vec<_> = barn
        .book
        .people
        .values()
        .map(|person| PersonView {
            id: person.id.clone(),
            name: person.name.clone(),
            role: person.role,
            since: barn.shift.here_since(&person.id).map(|at| local_time(barn, at, now)),
            assumed_out: barn.shift.assumed().iter().any(|stay| stay.person == person.id),
            language: person.language,
            staff: person.role.acts_as_staff(),
            has_pin: barn.pins.of(&person.id).is_some(),
        })
        .collect();
    list.sort_by(|a, b| (&a.name, &a.id).cmp(&(&b.name, &b.id)));
    list
}

/// The local time of a moment of the running clock, past or to come; midnight where no clock is set.
pub(super) fn local_time(barn: &Barn, at: Mono, now: Now) -> TimeOfDay {
    match now.wall {
        WallClock::Set(wall) => barn.limits.zone.time_of_day(wall.plus(at.0 as i64 - now.mono.0 as i64)),
        WallClock::Unset => clock_time(0),
    }
}

impl std::fmt::Display for AlarmWhat {
    /// Plain English, for logs and for who reads the JSON.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            AlarmWhat::BucketEmpty { stall, horse: Some(horse) } => {
                write!(f, "{horse}, stall {stall}: bucket empty and not refilled")
            }
            AlarmWhat::BucketEmpty { stall, horse: None } => write!(f, "stall {stall}: bucket empty and not refilled"),
            AlarmWhat::BucketLow { stall, horse: Some(horse) } => write!(f, "{horse}, stall {stall}: water is low"),
            AlarmWhat::BucketLow { stall, horse: None } => write!(f, "stall {stall}: water is low"),
            AlarmWhat::TroughEmpty { paddock } => write!(f, "paddock {paddock}: no water, and not refilled"),
            AlarmWhat::TroughLow { paddock } => write!(f, "paddock {paddock}: water is low"),
            AlarmWhat::Leak { sensor, litres_per_hour } => write!(
                f,
                "{sensor}: water goes steadily, {litres_per_hour:.1} L an hour: a leak, or the sensor drifts; go and look"
            ),
            AlarmWhat::Ice { stall, horse } => write!(
                f,
                "{horse}, stall {stall}: it freezes and it has not drunk: look for ice; tell the equine professional"
            ),
            AlarmWhat::NotDrinking { stall, horse, hours } => write!(
                f,
                "{horse}, stall {stall}: has not drunk for {hours} h in its stall, by its sensor: look at horse and bucket, tell \
                 the equine professional; the vet decides what it means"
            ),
            AlarmWhat::DrinksLittle { stall, horse, litres, usual } => write!(
                f,
                "{horse}, stall {stall}: drank {litres:.0} L in 24 h, usually {usual:.0} L: look at horse and bucket, tell the \
                 equine professional; the vet decides what it means"
            ),
            AlarmWhat::DrinksMuch { stall, horse, litres, usual } => write!(
                f,
                "{horse}, stall {stall}: drank {litres:.0} L in 24 h, usually {usual:.0} L: look for a leak, tell the equine \
                 professional; the vet decides what it means"
            ),
            AlarmWhat::SensorFaulty { sensor, fault } => {
                let fault = match fault {
                    Fault::Blocked => "something is before it",
                    Fault::TurnedAway => "it looks past the vessel or hangs upside down",
                    Fault::Stuck => "it says the same again and again",
                    Fault::Drifting => "it says that water rises by itself",
                };
                write!(f, "{sensor} can not be believed: {fault}; check by eye")
            }
            AlarmWhat::Heat { place, band } => {
                let advice = match band {
                    HeatBand::CarryOn => "no caution",
                    HeatBand::Watch => "watch the horses",
                    HeatBand::Critical => "critical to monitor: shorten, lighten, rest in shade",
                    HeatBand::Stop => "too hot to work: choose another time",
                };
                write!(f, "heat, {place}: {advice}; the equine professional decides")
            }
            AlarmWhat::PeopleHeat { place, band } => {
                let advice = match band {
                    PeopleBand::NoCaution | PeopleBand::Caution => "drink water",
                    PeopleBand::ExtremeCaution => "drink water, rest in the shade",
                    PeopleBand::Danger => "danger: put off heavy work, drink, rest in the shade",
                    PeopleBand::ExtremeDanger => "extreme danger: stop work, drink, get out of the heat",
                };
                write!(f, "heat for people, {place}: {advice}")
            }
            AlarmWhat::HeatAhead { place, band, from, lesson } => {
                let words = match band {
                    HeatBand::CarryOn => "no caution",
                    HeatBand::Watch => "begin to watch",
                    HeatBand::Critical => "critical to monitor",
                    HeatBand::Stop => "too hot to work",
                };
                write!(
                    f,
                    "heat ahead, {place}: {words} expected from {from}, in the lesson of {lesson}; tell the equine professional"
                )
            }
            AlarmWhat::ClimateDoubtful { places, of } => {
                let places: Vec<_> = places.iter().map(|place| place.as_str()).collect();
                let places = places.join(" and ");
                if *of > 2 {
                    write!(f, "climate, {places}: far from what the other places say; look for sun on the sensor")
                } else {
                    write!(f, "climate, {places}: they disagree, one is wrong; look for sun on a sensor")
                }
            }
            AlarmWhat::Frost { place, from: None } => {
                write!(f, "frost, {place}: look at buckets and pipes; no heater near hay; local practice decides")
            }
            AlarmWhat::Frost { place, from: Some(from) } => write!(
                f,
                "frost expected, {place}, from {from}: ready buckets and pipes; no heater near hay; local practice decides"
            ),
            AlarmWhat::SensorSilent { sensor } => write!(f, "{sensor} is silent: go and look"),
            AlarmWhat::BatteryLow { sensor } => write!(f, "{sensor}: battery is low"),
            AlarmWhat::VitalsCaution { horse, stall, vet_now, cautions } => {
                let urgency = if *vet_now { Urgency::VetNow } else { Urgency::Tell };
                write!(f, "{horse}, stall {stall}: {}. {}", cautions.join("; "), urgency.advice())
            }
            AlarmWhat::Wrong { horse, stall, vet_now, seen } => {
                let urgency = if *vet_now { Urgency::VetNow } else { Urgency::Tell };
                let seen: Vec<String> = seen.iter().map(ToString::to_string).collect();
                let seen = if seen.is_empty() { "go and look".to_owned() } else { seen.join("; ") };
                write!(f, "{horse}, stall {stall}: something is wrong: {seen}. Tell staff. {}", urgency.advice())
            }
            AlarmWhat::HayUnanswered { horse, stall } => {
                write!(f, "{horse}, stall {stall}: may it have hay? nobody has answered; do not feed before staff have")
            }
            AlarmWhat::ManySilent { sensors } => write!(
                f,
                "{sensors} sensors silent at once: look at the line, the access point and their power; check buckets by eye"
            ),
            AlarmWhat::LateHorses { lesson, horses } => {
                write!(f, "lesson of {lesson}: {} not ready in time", horses.join(", "))
            }
            AlarmWhat::NobodyFor { lesson, horses, why } => {
                write!(f, "lesson of {lesson}: nobody can ready {}: {why}", horses.join(", "))
            }
            AlarmWhat::NoHorse { horse, stall, lessons } => {
                write!(f, "{horse}, stall {stall}: taken out, and no horse goes in its place at {}", listed(lessons))
            }
            AlarmWhat::NobodyHere { lesson } => write!(f, "lesson of {lesson}: nobody is signed in"),
            AlarmWhat::ClockUnset => f.write_str("the clock is not set: set it at a kiosk, or look at the network"),
            AlarmWhat::DiskNearlyFull { free_mib } => {
                write!(f, "the hub's disk is nearly full, {free_mib} MiB left: call whoever looks after the hub")
            }
            AlarmWhat::BrokerDown => f.write_str("no sensor can be heard: check buckets by eye"),
            AlarmWhat::JournalDown => f.write_str("nothing can be written down: call whoever looks after the hub"),
        }
    }
}
