//! What a screen shows, computed whole from the barn. Nothing here changes anything.

use crate::alarm::{Alarms, State, whole_minutes};
use crate::barn::{Barn, LineState};
use crate::board::{
    AlarmLine, AlarmWhat, Board, Clock, HeatBand, HeatView, HorseView, HubState, LessonView, LineView, NextJob, Pace,
    PersonView, RideView, SensorView, StallView, StirrupsView, TackView, UnknownTap, VERSION, WaterView,
};
use crate::book::{Book, Horse, Stall};
use crate::heat::indices::heat_index;
use crate::input::Sensor;
use crate::time::{Mono, Now, TimeOfDay, WallClock};
use crate::work::Readiness;

/// Jobs that should begin later than this many minutes from now are not shown yet.
const NEXT_WITHIN: i64 = 180;

pub(super) fn board(barn: &Barn, now: Now) -> Board {
    let zone = barn.limits.zone;
    let today = now.wall.get().map(|wall| (zone.date(wall), zone.time_of_day(wall)));
    let readiness = today.map_or_else(Vec::new, |(date, time)| {
        barn.work.readiness(&barn.book, &barn.limits.lessons, date, i64::from(time.minutes()), now.mono)
    });
    let minute = today.map_or(0, |(_, time)| i64::from(time.minutes()));
    Board {
        version: VERSION,
        barn: barn.limits.barn.clone(),
        units: barn.limits.units,
        clock: today.map_or(Clock::Unset, |(date, time)| Clock::Set { date, time }),
        hub: HubState { broker: line(&barn.broker, now.mono), journal: line(&barn.journal, now.mono) },
        alarms: alarms(barn, now.mono),
        stalls: barn.book.stalls.iter().map(|stall| stall_view(barn, stall, &readiness, minute, now.mono)).collect(),
        lessons: lessons(&barn.book, &readiness),
        heat: heat(barn, now.mono),
        next: next(&barn.book, &readiness, minute),
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
    barn.alarms
        .standing()
        .into_iter()
        .map(|standing| {
            let alarm = &standing.alarm;
            let for_min = Alarms::minutes(alarm, now);
            let seen_by = match &standing.state {
                State::Acknowledged(person) => Some(name_of(&barn.book, person)),
                State::Unacknowledged | State::Returned => None,
            };
            AlarmLine {
                id: alarm.id,
                priority: alarm.priority,
                what: alarm.what.clone(),
                text: alarm.what.to_string(),
                for_min,
                seen_by,
                over: standing.state == State::Returned,
            }
        })
        .collect()
}

fn name_of(book: &Book, person: &crate::id::PersonId) -> String {
    book.people.get(person).map_or_else(|| person.to_string(), |person| person.name.clone())
}

fn stall_view(barn: &Barn, stall: &Stall, readiness: &[Readiness<'_>], minute: i64, now: Mono) -> StallView {
    StallView {
        id: stall.id.clone(),
        aisle: stall.aisle.clone(),
        side: stall.side,
        water: water(barn, stall, now),
        horse: barn.book.horse_in(&stall.id).map(|horse| horse_view(&barn.book, horse, readiness, minute)),
    }
}

fn water(barn: &Barn, stall: &Stall, now: Mono) -> WaterView {
    let Some(bucket) = barn.buckets.get(&stall.id) else { return WaterView::NoBucket };
    let heard = barn.sensors.get(&Sensor::Water(stall.id.clone()));
    let content = bucket.content();
    let minutes = |since: Mono| whole_minutes(now.since(since));
    match (content, heard) {
        (Some(content), Some(heard)) if heard.is_silent(&barn.limits.sensors, now) => {
            WaterView::Silent { last_percent: tenth(content.percent.get()), for_min: heard.last().map_or(0, minutes) }
        }
        (_, _) if bucket.faulty_since().is_some() => {
            WaterView::Faulty { for_min: bucket.faulty_since().map_or(0, minutes) }
        }
        (Some(content), _) => WaterView::Known {
            litres: tenth(content.litres.get()),
            percent: tenth(content.percent.get()),
            state: content.state,
            for_min: minutes(content.since),
        },
        (None, _) => WaterView::NeverHeard,
    }
}

/// To one decimal: more would make boards differ that look the same.
fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

fn horse_view(book: &Book, horse: &Horse, readiness: &[Readiness<'_>], minute: i64) -> HorseView {
    HorseView {
        id: horse.id.clone(),
        name: horse.name.clone(),
        grade: horse.grade,
        notes: horse.notes.clone(),
        rides: readiness
            .iter()
            .filter(|one| one.ride.horse == horse.id && minute < one.dismount)
            .map(|one| ride_view(book, one))
            .collect(),
    }
}

fn ride_view(book: &Book, one: &Readiness<'_>) -> RideView {
    RideView {
        id: one.ride.id.clone(),
        usage: one.ride.usage.clone(),
        mount: clock_time(one.mount),
        ready_by: clock_time(one.ready_by),
        start_by: clock_time(one.start_by),
        instructor: name_of(book, &one.lesson.instructor),
        place: one.lesson.place.clone(),
        links: one.links,
        pace: one.pace,
        tack: book
            .tack_for(&one.ride.horse, &one.ride.usage)
            .into_iter()
            .map(|(fit, tack)| TackView {
                kind: tack.kind,
                name: if tack.size.is_empty() { tack.name.clone() } else { format!("{}, {}", tack.name, tack.size) },
                place: tack.place.clone(),
                note: fit.note.clone(),
            })
            .collect(),
        stirrups: one.ride.stirrups.map(|both| StirrupsView { left: both.left, right: both.right }),
    }
}

/// A minute of the day as a time; what would fall before midnight is held there.
fn clock_time(minute: i64) -> TimeOfDay {
    let held = minute.clamp(0, 1439) as u16;
    TimeOfDay::from_minutes(held).unwrap_or(TimeOfDay::ELEVEN_PM)
}

fn lessons(book: &Book, readiness: &[Readiness<'_>]) -> Vec<LessonView> {
    let mut list: Vec<LessonView> = Vec::new();
    for one in readiness {
        let ready = u32::from(one.pace == Pace::Ready);
        if let Some(lesson) = list.iter_mut().find(|lesson| lesson.id == one.lesson.id) {
            lesson.horses += 1;
            lesson.ready += ready;
            continue;
        }
        list.push(LessonView {
            id: one.lesson.id.clone(),
            start: one.lesson.start,
            minutes: one.lesson.minutes.0,
            instructor: name_of(book, &one.lesson.instructor),
            place: one.lesson.place.clone(),
            horses: 1,
            ready,
        });
    }
    list
}

fn heat(barn: &Barn, now: Mono) -> HeatView {
    let mut last_heard = None;
    let mut worst = None;
    for (place, climate) in &barn.climates {
        let Some(heat) = climate.heat() else { continue };
        last_heard = last_heard.max(Some(heat.measured));
        let heard = barn.sensors.get(&Sensor::Climate(place.clone()));
        if heard.is_none_or(|heard| heard.is_silent(&barn.limits.sensors, now)) {
            continue;
        }
        if worst.as_ref().is_none_or(|(_, other): &(_, crate::climate::Heat)| heat.sum.get() > other.sum.get()) {
            worst = Some((place, heat));
        }
    }
    let Some((place, heat)) = worst else {
        return HeatView::Unknown { for_min: last_heard.map(|at| whole_minutes(now.since(at))) };
    };
    HeatView::Known {
        place: place.clone(),
        temperature: tenth(heat.temperature.get()),
        humidity: tenth(heat.humidity.get()),
        horse_sum: tenth(heat.sum.get()),
        heat_index: heat_index(heat.temperature, heat.humidity).ok().map(|felt| tenth(felt.get())),
        band: heat.band,
        humid: heat.sum.humid(),
    }
}

fn next(book: &Book, readiness: &[Readiness<'_>], minute: i64) -> Vec<NextJob> {
    let mut jobs: Vec<_> = readiness
        .iter()
        .filter(|one| minute < one.dismount && one.start_by - minute <= NEXT_WITHIN)
        .filter_map(|one| {
            let (job, done_by, who) = one.next.clone()?;
            let horse = book.horses.get(&one.ride.horse)?;
            let view = NextJob {
                ride: one.ride.id.clone(),
                horse: horse.id.clone(),
                name: horse.name.clone(),
                stall: horse.stall.clone(),
                job,
                start_by: clock_time(one.start_by),
                done_by: clock_time(done_by),
                pace: one.pace,
                who: who.map(|who| name_of(book, &who)),
            };
            Some((done_by, view))
        })
        .collect();
    // Late first, then by when it must be done; the sort is stable, so ties stay in order of mount time.
    jobs.sort_by_key(|(done_by, job)| (job.pace != Pace::Late, *done_by));
    jobs.into_iter().map(|(_, job)| job).collect()
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
        })
        .collect();
    list.sort_by(|a, b| (&a.name, &a.id).cmp(&(&b.name, &b.id)));
    list
}

/// The local time of a moment of the running clock; midnight where no clock is set.
fn local_time(barn: &Barn, at: Mono, now: Now) -> TimeOfDay {
    match now.wall {
        WallClock::Set(wall) => barn.limits.zone.time_of_day(wall.plus(-(now.mono.since(at) as i64))),
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
            AlarmWhat::Heat { place, band } => {
                let advice = match band {
                    HeatBand::CarryOn => "no caution",
                    HeatBand::Watch => "watch the horses",
                    HeatBand::Critical => "critical to monitor: shorten, lighten, rest in shade",
                    HeatBand::Stop => "too hot to work: choose another time",
                };
                write!(f, "heat, {place}: {advice}; the equine professional decides")
            }
            AlarmWhat::SensorSilent { sensor } => write!(f, "{sensor} is silent: go and look"),
            AlarmWhat::BatteryLow { sensor } => write!(f, "{sensor}: battery is low"),
            AlarmWhat::BrokerDown => f.write_str("no sensor can be heard: check buckets by eye"),
            AlarmWhat::JournalDown => f.write_str("nothing can be written down: call whoever looks after the hub"),
        }
    }
}
