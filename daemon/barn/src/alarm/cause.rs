//! What an alarm is for: its identity, and the rule that it belongs to. Knows names of things and nothing of their state.

use std::fmt;

use serde::{Deserialize, Serialize};

use crate::book::WaterPlace;
use crate::id::{HorseId, LessonId, PlaceId, StallId};
use crate::input::Sensor;

/// What an alarm is for: its identity. What it says may change (a worse band), the cause does not.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// The water of a place is gone and not refilled.
    Empty(WaterPlace),
    /// The water of a place is low and not refilled.
    Low(WaterPlace),
    /// A vessel leaks.
    Leak(Sensor),
    /// The water of a stall may be frozen.
    Ice(StallId),
    /// A horse has not drunk for long.
    NotDrinking(HorseId),
    /// A horse drinks far less or far more than it usually does.
    Drinks(HorseId),
    /// What a sensor says can not be believed.
    Faulty(Sensor),
    /// Heat at a place.
    Heat(PlaceId),
    /// Heat at a place, for people.
    PeopleHeat(PlaceId),
    /// Heat that is expected in a lesson.
    HeatAhead,
    /// Climate sensors that disagree.
    ClimateDoubt,
    /// Frost, here or expected.
    Frost,
    /// A sensor does not speak.
    Silent(Sensor),
    /// A sensor's battery is low.
    Battery(Sensor),
    /// What was observed of a horse.
    Vitals(HorseId),
    /// Somebody said that something is wrong with a horse.
    Wrong(HorseId),
    /// A question for hay that nobody answers, by its number.
    Hay(u64),
    /// Many sensors have gone silent at once.
    ManySilent,
    /// Horses of a lesson are not ready in time.
    Late(LessonId),
    /// Horses of a lesson can not be readied, or nobody can.
    NobodyFor(LessonId),
    /// A horse was taken out, and nobody has said who goes in its place.
    NoHorse(HorseId),
    /// Nobody is signed in and a lesson is due.
    NobodyHere,
    /// The clock is not set.
    Clock,
    /// The hub's disk is nearly full.
    Disk,
    /// No line to the sensors.
    Broker,
    /// What happens can not be written down.
    Journal,
}

impl Cause {
    /// The rule that it belongs to.
    pub fn rule(&self) -> Rule {
        match self {
            Cause::Empty(_) => Rule::Empty,
            Cause::Low(_) => Rule::Low,
            Cause::Leak(_) => Rule::Leak,
            Cause::Ice(_) => Rule::Ice,
            Cause::NotDrinking(_) => Rule::NotDrinking,
            Cause::Drinks(_) => Rule::Drinks,
            Cause::Faulty(_) => Rule::Faulty,
            Cause::Heat(_) => Rule::Heat,
            Cause::PeopleHeat(_) => Rule::PeopleHeat,
            Cause::HeatAhead => Rule::HeatAhead,
            Cause::ClimateDoubt => Rule::ClimateDoubt,
            Cause::Frost => Rule::Frost,
            Cause::Silent(_) | Cause::ManySilent => Rule::Silent,
            Cause::Battery(_) => Rule::Battery,
            Cause::Vitals(_) => Rule::Vitals,
            Cause::Wrong(_) => Rule::Wrong,
            Cause::Hay(_) => Rule::Hay,
            Cause::Late(_) => Rule::Late,
            Cause::NobodyFor(_) => Rule::NobodyFor,
            Cause::NoHorse(_) => Rule::NoHorse,
            Cause::NobodyHere => Rule::NobodyHere,
            Cause::Clock => Rule::Clock,
            Cause::Disk => Rule::Disk,
            Cause::Broker => Rule::Broker,
            Cause::Journal => Rule::Journal,
        }
    }
}

macro_rules! rules {
    ($($name:ident $word:literal $says:literal,)+) => {
        /// A rule: all causes of one kind.
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
        #[serde(rename_all = "snake_case")]
        pub enum Rule {
            $(#[doc = $says] $name,)+
        }

        impl Rule {
            /// All of them.
            pub const ALL: &'static [Rule] = &[$(Rule::$name,)+];

            /// Its name in the settings.
            pub fn word(self) -> &'static str {
                match self { $(Rule::$name => $word,)+ }
            }

            /// What it says, in a few words.
            pub fn says(self) -> &'static str {
                match self { $(Rule::$name => $says,)+ }
            }
        }
    };
}

rules! {
    Empty "empty" "water is gone and not refilled",
    Low "low" "water is low",
    Leak "leak" "water goes steadily",
    Ice "ice" "water may be ice",
    NotDrinking "not_drinking" "a horse has not drunk",
    Drinks "drinks" "a horse drinks little or much",
    Faulty "faulty" "a sensor can not be believed",
    Heat "heat" "heat for horses",
    PeopleHeat "people_heat" "heat for people",
    HeatAhead "heat_ahead" "heat is expected in a lesson",
    ClimateDoubt "climate_doubt" "climate sensors disagree",
    Frost "frost" "frost",
    Silent "silent" "a sensor is silent",
    Battery "battery" "a battery is low",
    Vitals "vitals" "a horse's signs differ",
    Wrong "wrong" "something is wrong with a horse",
    Hay "hay" "a question for hay is not answered",
    Late "late" "horses are not ready in time",
    NobodyFor "nobody_for" "horses can not be readied",
    NoHorse "no_horse" "no horse goes in place of one that was taken out",
    NobodyHere "nobody_here" "nobody is signed in for a lesson",
    Clock "clock" "the clock is not set",
    Disk "disk" "the disk is nearly full",
    Broker "broker" "no sensor can be heard",
    Journal "journal" "nothing can be written down",
}

/// Something that is out of service.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum OutOfService {
    /// A sensor: what it says raises nothing.
    Sensor(Sensor),
    /// A rule: it raises nothing anywhere.
    Rule(Rule),
}

impl OutOfService {
    /// What is allowed, for whoever got it wrong.
    pub const ALLOWED: &'static str =
        "\"water STALL\", \"bucket NAME\", \"climate PLACE\" for a sensor, or \"rule NAME\" such as \"rule frost\"";

    /// From the settings: `water 7`, `bucket trough`, `climate aisle`, `rule frost`.
    pub fn parse(text: &str) -> Option<Self> {
        let (kind, name) = text.trim().split_once(' ')?;
        let name = name.trim();
        if name.is_empty() {
            return None;
        }
        Some(match kind {
            "water" => Self::Sensor(Sensor::Water(name.into())),
            "bucket" => Self::Sensor(Sensor::Bucket(name.into())),
            "climate" => Self::Sensor(Sensor::Climate(name.into())),
            "rule" => Self::Rule(Rule::ALL.iter().copied().find(|rule| rule.word() == name)?),
            _ => return None,
        })
    }
}

impl fmt::Display for OutOfService {
    /// As [`parse`](Self::parse) reads it.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Sensor(Sensor::Water(stall)) => write!(f, "water {stall}"),
            Self::Sensor(Sensor::Bucket(bucket)) => write!(f, "bucket {bucket}"),
            Self::Sensor(Sensor::Climate(place)) => write!(f, "climate {place}"),
            Self::Rule(rule) => write!(f, "rule {}", rule.word()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_out_of_service_is_read_as_it_is_written() {
        for text in ["water 7", "bucket far trough", "climate aisle", "rule frost", "rule heat_ahead"] {
            assert_eq!(OutOfService::parse(text).expect(text).to_string(), text);
        }
        for text in ["", "water", "water ", "rule", "rule fog", "stall 7"] {
            assert_eq!(OutOfService::parse(text), None, "{text:?}");
        }
        for rule in Rule::ALL {
            assert_eq!(OutOfService::parse(&format!("rule {}", rule.word())), Some(OutOfService::Rule(*rule)));
        }
    }
}
