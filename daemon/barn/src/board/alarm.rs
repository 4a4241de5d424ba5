//! What needs a person: alarms as a screen shows them.

use serde::{Deserialize, Serialize};

use super::heat::{HeatBand, PeopleBand};
use crate::care::seen::Seen;
use crate::id::{PlaceId, StallId};
use crate::input::{Sensor, WhyAside};
use crate::time::TimeOfDay;
use crate::water::bucket::Fault;

/// One alarm.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct AlarmLine {
    /// Its number, to acknowledge it by.
    pub id: u64,
    /// How pressing.
    pub priority: Priority,
    /// What, and where.
    pub what: AlarmWhat,
    /// In English, whole, for logs and for who reads the JSON; a kiosk makes its own words from `what`.
    pub text: String,
    /// For how many whole minutes it has stood.
    pub for_min: u32,
    /// Who has seen it.
    pub seen_by: Option<String>,
    /// True where its cause is gone and nobody has said so yet.
    pub over: bool,
    /// Who has put it aside until when, and why; none while it is not.
    #[serde(default)]
    pub aside: Option<AsideView>,
    /// Who has been told by a message, in order.
    #[serde(default)]
    pub told: Vec<String>,
    /// True where it comes and goes, and nothing more is said of it until it keeps still.
    #[serde(default)]
    pub chattering: bool,
}

/// An alarm that staff have put aside. It comes back by itself.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct AsideView {
    /// What the aisle calls who did it.
    pub by: String,
    /// Until when, local time.
    pub until: TimeOfDay,
    /// Why.
    pub why: WhyAside,
}

/// How pressing an alarm is.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Priority {
    /// A horse or a person may come to harm soon.
    High,
    /// Somebody must act today.
    Medium,
    /// Somebody must know.
    Low,
}

/// What an alarm is about.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum AlarmWhat {
    /// A bucket is empty and nobody has filled it.
    BucketEmpty {
        /// Which stall.
        stall: StallId,
        /// The name of the horse in it.
        horse: Option<String>,
    },
    /// A bucket is low and nobody has filled it.
    BucketLow {
        /// Which stall.
        stall: StallId,
        /// The name of the horse in it.
        horse: Option<String>,
    },
    /// A paddock has nothing to drink.
    TroughEmpty {
        /// Which paddock.
        paddock: PlaceId,
    },
    /// A paddock has little to drink.
    TroughLow {
        /// Which paddock.
        paddock: PlaceId,
    },
    /// Water goes steadily: a leak, or a sensor that drifts.
    Leak {
        /// The sensor that tells it.
        sensor: Sensor,
        /// How much goes.
        litres_per_hour: f64,
    },
    /// It freezes, and a horse has not drunk: its water may be ice.
    Ice {
        /// Which stall.
        stall: StallId,
        /// The name of the horse in it.
        horse: String,
    },
    /// A horse has not drunk for long, standing in its stall.
    NotDrinking {
        /// Which stall.
        stall: StallId,
        /// Its name.
        horse: String,
        /// Whole hours in its stall since it drank.
        hours: u32,
    },
    /// A horse drinks far less than it usually does.
    DrinksLittle {
        /// Which stall.
        stall: StallId,
        /// Its name.
        horse: String,
        /// Litres of the last 24 hours.
        litres: f64,
        /// Litres that it usually drinks in them.
        usual: f64,
    },
    /// A horse drinks far more than it usually does.
    DrinksMuch {
        /// Which stall.
        stall: StallId,
        /// Its name.
        horse: String,
        /// Litres of the last 24 hours.
        litres: f64,
        /// Litres that it usually drinks in them.
        usual: f64,
    },
    /// What a level sensor says can not be believed.
    SensorFaulty {
        /// Which.
        sensor: Sensor,
        /// What is wrong with it.
        fault: Fault,
    },
    /// Heat at a place has reached a band.
    Heat {
        /// Where.
        place: PlaceId,
        /// Which band.
        band: HeatBand,
    },
    /// Heat at a place is a danger to people.
    PeopleHeat {
        /// Where.
        place: PlaceId,
        /// Which band.
        band: PeopleBand,
    },
    /// A lesson is expected in a band of heat that is not reached yet.
    HeatAhead {
        /// Where.
        place: PlaceId,
        /// Which band.
        band: HeatBand,
        /// When it is expected to be reached.
        from: TimeOfDay,
        /// When the first lesson in it begins.
        lesson: TimeOfDay,
    },
    /// Climate sensors say what can not all be true.
    ClimateDoubtful {
        /// Those that are doubted.
        places: Vec<PlaceId>,
        /// How many speak. With two nobody can say which of them is wrong.
        of: u32,
    },
    /// Buckets and pipes may freeze.
    Frost {
        /// Where.
        place: PlaceId,
        /// When it is expected; none where it is so cold now.
        from: Option<TimeOfDay>,
    },
    /// A sensor has not spoken.
    SensorSilent {
        /// Which.
        sensor: Sensor,
    },
    /// A sensor's battery is low.
    BatteryLow {
        /// Which.
        sensor: Sensor,
    },
    /// What was observed of a horse differs from what is written of it.
    VitalsCaution {
        /// Its name.
        horse: String,
        /// Where it stands.
        stall: StallId,
        /// True where it is one of the signs for which the vet is called at once.
        vet_now: bool,
        /// What differs from what, a sentence each.
        cautions: Vec<String>,
    },
    /// Somebody said that something is wrong with a horse.
    Wrong {
        /// Its name.
        horse: String,
        /// Where it stands.
        stall: StallId,
        /// True where a sign was seen for which the vet is called now.
        vet_now: bool,
        /// What was seen.
        seen: Vec<Seen>,
    },
    /// Nobody has answered whether a horse may have hay.
    HayUnanswered {
        /// Its name.
        horse: String,
        /// Where it stands.
        stall: StallId,
    },
    /// Many sensors have gone silent at once: a line or an access point, and not each of them.
    ManySilent {
        /// How many.
        sensors: u32,
    },
    /// Horses are not ready for their lesson in time.
    LateHorses {
        /// When the lesson begins.
        lesson: TimeOfDay,
        /// Their names.
        horses: Vec<String>,
    },
    /// Horses of a lesson can not be readied by the plan, or nobody but staff can.
    NobodyFor {
        /// When the lesson begins.
        lesson: TimeOfDay,
        /// Their names.
        horses: Vec<String>,
        /// Why, in the barn's words.
        why: String,
    },
    /// A horse was taken out, and nobody has said who goes in its place.
    NoHorse {
        /// Its name.
        horse: String,
        /// Where it stands.
        stall: StallId,
        /// When the lessons begin that are still to come and whose riders have no horse.
        lessons: Vec<TimeOfDay>,
    },
    /// A lesson is due and nobody is signed in.
    NobodyHere {
        /// When it begins.
        lesson: TimeOfDay,
    },
    /// The hub does not know what time it is.
    ClockUnset,
    /// The hub's disk is nearly full.
    DiskNearlyFull {
        /// What is left, in MiB.
        free_mib: u32,
    },
    /// The hub hears no sensor at all.
    BrokerDown,
    /// The hub can not write down what happens.
    JournalDown,
}

impl AlarmWhat {
    /// True where this says something worse than the other, though it may be no more pressing: who has seen the other has not
    /// seen this.
    pub fn is_worse_than(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Heat { band, .. }, Self::Heat { band: before, .. }) => band > before,
            (Self::PeopleHeat { band, .. }, Self::PeopleHeat { band: before, .. }) => band > before,
            (Self::HeatAhead { band, .. }, Self::HeatAhead { band: before, .. }) => band > before,
            (Self::VitalsCaution { vet_now, .. }, Self::VitalsCaution { vet_now: before, .. })
            | (Self::Wrong { vet_now, .. }, Self::Wrong { vet_now: before, .. }) => *vet_now && !before,
            (Self::NoHorse { lessons, .. }, Self::NoHorse { lessons: before, .. }) => {
                lessons.iter().any(|lesson| !before.contains(lesson))
            }
            _ => false,
        }
    }
}
