//! What an alarm says: where it is, and what to do.

use bellmare_barn::board::{AlarmLine, AlarmWhat};
use bellmare_barn::input::Sensor;
use bellmare_barn::limits::DisplayUnits;
use slint::{ComponentHandle, SharedString};

use super::{band, broker_down, fault, journal_down, people, stall, time};
use crate::ui::SayAlarm;

fn ask(word: impl FnOnce(SayAlarm<'_>) -> SharedString) -> String {
    super::ask(|app| word(app.global()))
}

/// What an alarm says, without its age.
pub fn alarm(what: &AlarmWhat, units: DisplayUnits) -> String {
    let time = |at| SharedString::from(time(at, units));
    ask(|say| match what {
        AlarmWhat::BucketEmpty { stall, horse } => say.invoke_bucket_empty(at(horse.as_deref(), stall.as_str())),
        AlarmWhat::BucketLow { stall, horse } => say.invoke_water_low(at(horse.as_deref(), stall.as_str())),
        AlarmWhat::TroughEmpty { paddock } => say.invoke_trough_empty(say.invoke_paddock(paddock.as_str().into())),
        AlarmWhat::TroughLow { paddock } => say.invoke_water_low(say.invoke_paddock(paddock.as_str().into())),
        AlarmWhat::Leak { sensor, .. } => say.invoke_leak(sensor_at(sensor)),
        AlarmWhat::Ice { stall, horse } => say.invoke_ice(at(Some(horse), stall.as_str())),
        AlarmWhat::NotDrinking { stall, horse, hours } => {
            say.invoke_not_drinking(at(Some(horse), stall.as_str()), hours.to_string().into())
        }
        AlarmWhat::DrinksLittle { stall, horse, .. } => say.invoke_drinks_little(at(Some(horse), stall.as_str())),
        AlarmWhat::DrinksMuch { stall, horse, .. } => say.invoke_drinks_much(at(Some(horse), stall.as_str())),
        AlarmWhat::SensorFaulty { sensor, fault } => say.invoke_faulty(sensor_at(sensor), self::fault(*fault).into()),
        AlarmWhat::Heat { place, band } => say.invoke_heat(place.as_str().into(), self::band(*band).into()),
        AlarmWhat::PeopleHeat { place, band } => say.invoke_people_heat(place.as_str().into(), people(*band).into()),
        AlarmWhat::HeatAhead { band, from, lesson, .. } => {
            say.invoke_heat_ahead(time(*lesson), self::band(*band).into(), time(*from))
        }
        AlarmWhat::ClimateDoubtful { places, of } => {
            let places = places.iter().map(|place| SharedString::from(place.as_str()));
            let places = places.reduce(|first, second| say.invoke_also(first, second)).unwrap_or_default();
            if *of > 2 { say.invoke_climate_doubtful(places) } else { say.invoke_climates_disagree(places) }
        }
        AlarmWhat::Frost { place, from: None } => say.invoke_frost(place.as_str().into()),
        AlarmWhat::Frost { from: Some(from), .. } => say.invoke_frost_from(time(*from)),
        AlarmWhat::SensorSilent { sensor } => say.invoke_silent(sensor_at(sensor)),
        AlarmWhat::BatteryLow { sensor } => say.invoke_battery_low(sensor_at(sensor)),
        AlarmWhat::VitalsCaution { horse, stall, vet_now: true, .. } => {
            say.invoke_vet_now(at(Some(horse), stall.as_str()))
        }
        AlarmWhat::VitalsCaution { horse, stall, vet_now: false, .. } => {
            say.invoke_tell_professional(at(Some(horse), stall.as_str()))
        }
        AlarmWhat::Wrong { horse, stall, vet_now: true, .. } => say.invoke_vet_now(at(Some(horse), stall.as_str())),
        AlarmWhat::Wrong { horse, stall, vet_now: false, .. } => say.invoke_wrong(at(Some(horse), stall.as_str())),
        AlarmWhat::HayUnanswered { horse, stall } => say.invoke_hay_unanswered(at(Some(horse), stall.as_str())),
        AlarmWhat::ManySilent { sensors } => say.invoke_many_silent(sensors.to_string().into()),
        AlarmWhat::LateHorses { lesson, horses } => say.invoke_late_horses(time(*lesson), horses.join(", ").into()),
        AlarmWhat::NobodyFor { lesson, horses, .. } => say.invoke_nobody_for(time(*lesson), horses.join(", ").into()),
        AlarmWhat::NoHorse { horse, lessons, .. } => {
            let lessons: Vec<_> = lessons.iter().map(|lesson| time(*lesson)).collect();
            say.invoke_no_horse(horse.into(), lessons.join(", ").into())
        }
        AlarmWhat::NobodyHere { lesson } => say.invoke_nobody_here(time(*lesson)),
        AlarmWhat::ClockUnset => say.get_clock_unset_alarm(),
        AlarmWhat::DiskNearlyFull { .. } => say.get_disk_nearly_full(),
        AlarmWhat::BrokerDown => broker_down().into(),
        AlarmWhat::JournalDown => journal_down().into(),
    })
}

/// Who has seen it.
pub fn seen_by(who: &str) -> String {
    ask(|say| say.invoke_seen_by(who.into()))
}

/// Whether an alarm is over, seen, or waits for somebody.
pub fn alarm_state(alarm: &AlarmLine) -> String {
    ask(|say| match (&alarm.seen_by, alarm.over) {
        (_, true) => say.get_over(),
        (Some(who), false) => say.invoke_seen_by(who.into()),
        (None, false) => say.get_when_seen(),
    })
}

fn at(horse: Option<&str>, stall: &str) -> SharedString {
    match horse {
        Some(horse) => ask(|say| say.invoke_at(horse.into(), stall.into())).into(),
        None => self::stall(stall).into(),
    }
}

fn sensor_at(sensor: &Sensor) -> SharedString {
    let place = match sensor {
        Sensor::Water(stall) => self::stall(stall.as_str()),
        Sensor::Bucket(bucket) => bucket.to_string(),
        Sensor::Climate(place) => return ask(|say| say.invoke_climate_of(place.as_str().into())).into(),
    };
    ask(|say| say.invoke_water_of(place.into())).into()
}
