//! An alarm in three parts for a message: what, where, and what to do. In English, whole; what may do harm defers to the vet,
//! the equine professional or local practice.

use crate::board::{AlarmWhat, HeatBand, PeopleBand};
use crate::care::vitals::Urgency;
use crate::input::Sensor;
use crate::time::listed;
use crate::water::bucket::Fault;

/// What, where, and what to do.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Parts {
    /// What, in a few words.
    pub what: String,
    /// Where, and whose; empty where it is the hub's.
    pub place: String,
    /// What to do.
    pub to_do: String,
}

const LOOK_AT_HORSE: &str =
    "Look at horse and bucket, and tell the equine professional; the vet decides what it means. This is no diagnosis.";

/// The parts of what an alarm says.
pub fn parts(what: &AlarmWhat) -> Parts {
    let (words, place, to_do): (String, String, String) = match what {
        AlarmWhat::BucketEmpty { stall, horse } => (
            "bucket empty and not refilled".into(),
            stall_of(stall.as_str(), horse.as_deref()),
            "Fill it now, and look whether the horse is well.".into(),
        ),
        AlarmWhat::BucketLow { stall, horse } => {
            ("water is low".into(), stall_of(stall.as_str(), horse.as_deref()), "Fill it on the next round.".into())
        }
        AlarmWhat::TroughEmpty { paddock } => (
            "no water, and not refilled".into(),
            format!("paddock {paddock}"),
            "Fill it now, and look whether the horses are well.".into(),
        ),
        AlarmWhat::TroughLow { paddock } => {
            ("water is low".into(), format!("paddock {paddock}"), "Fill it on the next round.".into())
        }
        AlarmWhat::Leak { sensor, litres_per_hour } => (
            format!("water goes steadily, {litres_per_hour:.1} L an hour"),
            sensor_at(sensor),
            "Look for a leak; if there is none, look at the sensor.".into(),
        ),
        AlarmWhat::Ice { stall, horse } => (
            "it freezes, and the horse has not drunk".into(),
            stall_of(stall.as_str(), Some(horse)),
            "Look for ice, offer water, and tell the equine professional.".into(),
        ),
        AlarmWhat::NotDrinking { stall, horse, hours } => (
            format!("has not drunk for {hours} h in its stall, by its sensor"),
            stall_of(stall.as_str(), Some(horse)),
            LOOK_AT_HORSE.into(),
        ),
        AlarmWhat::DrinksLittle { stall, horse, litres, usual } => (
            format!("drank {litres:.0} L in 24 h, usually {usual:.0} L"),
            stall_of(stall.as_str(), Some(horse)),
            LOOK_AT_HORSE.into(),
        ),
        AlarmWhat::DrinksMuch { stall, horse, litres, usual } => (
            format!("drank {litres:.0} L in 24 h, usually {usual:.0} L"),
            stall_of(stall.as_str(), Some(horse)),
            format!("Look for a leak first. {LOOK_AT_HORSE}"),
        ),
        AlarmWhat::SensorFaulty { sensor, fault } => {
            let fault = match fault {
                Fault::Blocked => "something is before it",
                Fault::TurnedAway => "it looks past the vessel or hangs upside down",
                Fault::Stuck => "it says the same again and again",
                Fault::Drifting => "it says that water rises by itself",
            };
            (
                format!("a sensor can not be believed: {fault}"),
                sensor_at(sensor),
                "Check by eye, and look at the sensor.".into(),
            )
        }
        AlarmWhat::Heat { place, band } => (
            format!("heat for horses: {}", horses(*band)),
            place.to_string(),
            match band {
                HeatBand::Stop => "Choose another time to work; shade, air and water. The equine professional decides.",
                _ => "Shorten and lighten the work; shade, air and water. The equine professional decides.",
            }
            .into(),
        ),
        AlarmWhat::PeopleHeat { place, band } => (
            "heat is a danger to people".into(),
            place.to_string(),
            match band {
                PeopleBand::ExtremeDanger => "Stop work, drink, get out of the heat.",
                _ => "Put off heavy work, drink, rest in the shade.",
            }
            .into(),
        ),
        AlarmWhat::HeatAhead { place, band, from, lesson } => (
            format!("heat ahead: {} expected from {from}, in the lesson of {lesson}", horses(*band)),
            place.to_string(),
            "Tell the equine professional, who decides about the lesson.".into(),
        ),
        AlarmWhat::ClimateDoubtful { places, .. } => (
            "climate sensors disagree".into(),
            places.iter().map(|place| place.as_str()).collect::<Vec<_>>().join(" and "),
            "Look for sun or damp on the sensors.".into(),
        ),
        AlarmWhat::Frost { place, from } => (
            from.map_or_else(|| "frost".to_owned(), |from| format!("frost expected from {from}")),
            place.to_string(),
            "Look at buckets and pipes; no heater near hay. Local practice decides.".into(),
        ),
        AlarmWhat::SensorSilent { sensor } => (
            "a sensor is silent".into(),
            sensor_at(sensor),
            "Check by eye, and look at the sensor: battery, radio, cable.".into(),
        ),
        AlarmWhat::ManySilent { sensors } => (
            format!("{sensors} sensors are silent at once"),
            String::new(),
            "Look at the line, the access point and their power; check buckets by eye meanwhile.".into(),
        ),
        AlarmWhat::BatteryLow { sensor } => {
            ("a battery is low".into(), sensor_at(sensor), "Change it in the next days.".into())
        }
        AlarmWhat::VitalsCaution { horse, stall, vet_now, cautions } => {
            (cautions.join("; "), stall_of(stall.as_str(), Some(horse)), urgency(*vet_now))
        }
        AlarmWhat::Wrong { horse, stall, vet_now, .. } => {
            ("somebody says that something is wrong".into(), stall_of(stall.as_str(), Some(horse)), urgency(*vet_now))
        }
        AlarmWhat::HayUnanswered { horse, stall } => (
            "may it have hay? nobody has answered".into(),
            stall_of(stall.as_str(), Some(horse)),
            "Answer at a kiosk. Nobody feeds before staff have said yes.".into(),
        ),
        AlarmWhat::LateHorses { lesson, horses } => (
            format!("not ready in time: {}", horses.join(", ")),
            format!("lesson of {lesson}"),
            "Send a hand, or tell the instructor.".into(),
        ),
        AlarmWhat::NobodyFor { lesson, horses, why } => (
            format!("nobody can ready {}: {why}", horses.join(", ")),
            format!("lesson of {lesson}"),
            "Find a hand or another horse, or tell the instructor.".into(),
        ),
        AlarmWhat::NoHorse { horse, stall, lessons } => (
            format!("taken out, and no horse goes in its place at {}", listed(lessons)),
            stall_of(stall.as_str(), Some(horse)),
            "The equine professional says at a kiosk who goes; or tell the instructor.".into(),
        ),
        AlarmWhat::NobodyHere { lesson } => (
            "nobody is signed in, and a lesson is due".into(),
            format!("lesson of {lesson}"),
            "See who is there, and have them sign in; or tell the instructor.".into(),
        ),
        AlarmWhat::ClockUnset => (
            "the hub does not know what time it is".into(),
            String::new(),
            "Set the clock at a kiosk, or look at the network. Water is watched; lessons are not.".into(),
        ),
        AlarmWhat::DiskNearlyFull { free_mib } => (
            format!("the hub's disk is nearly full, {free_mib} MiB left"),
            String::new(),
            "Call whoever looks after the hub.".into(),
        ),
        AlarmWhat::BrokerDown => (
            "no sensor can be heard".into(),
            String::new(),
            "Check buckets by eye, and look at network and broker.".into(),
        ),
        AlarmWhat::JournalDown => (
            "nothing can be written down".into(),
            String::new(),
            "Call whoever looks after the hub. It goes on watching, and forgets what happens if it stops.".into(),
        ),
    };
    Parts { what: words, place, to_do }
}

/// What and where, on one line.
pub fn line(what: &AlarmWhat) -> String {
    let Parts { what, place, .. } = parts(what);
    if place.is_empty() { what } else { format!("{place}: {what}") }
}

fn stall_of(stall: &str, horse: Option<&str>) -> String {
    horse.map_or_else(|| format!("stall {stall}"), |horse| format!("stall {stall}, {horse}"))
}

fn sensor_at(sensor: &Sensor) -> String {
    match sensor {
        Sensor::Water(stall) => format!("stall {stall}"),
        Sensor::Bucket(bucket) => bucket.to_string(),
        Sensor::Climate(place) => place.to_string(),
    }
}

fn horses(band: HeatBand) -> &'static str {
    match band {
        HeatBand::CarryOn => "no caution",
        HeatBand::Watch => "begin to watch",
        HeatBand::Critical => "critical to monitor",
        HeatBand::Stop => "too hot to work",
    }
}

fn urgency(vet_now: bool) -> String {
    if vet_now { Urgency::VetNow } else { Urgency::Tell }.advice().to_owned()
}
