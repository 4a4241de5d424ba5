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
    /// The hub hears no sensor at all.
    BrokerDown,
    /// The hub can not write down what happens.
    JournalDown,
}

impl AlarmWhat {
    /// True where this says something worse than the other, though it may be no more pressing: who has seen the other has not
    /// seen this.
    pub fn is_worse_than(&self, other: &Self) -> bool {
        let vet = |what: &Self| matches!(what, AlarmWhat::Wrong { vet_now: true, .. });
        vet(self) && !vet(other)
    }
}
