//! Water as a screen shows it: what there is, what was drunk, when it will be gone, what to fill.

use serde::{Deserialize, Serialize};

use super::aisle::DoneView;
use crate::book::WaterPlace;
use crate::id::PlaceId;
use crate::time::TimeOfDay;
use crate::water::bucket::{Fault, How};

/// What a horse drinks, as far as its water tells.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct DrinkingView {
    /// Litres since midnight.
    pub today: f64,
    /// Litres that it usually drinks in a whole day, and on how many days that rests; none while too few are known.
    pub usual: Option<(f64, u32)>,
    /// Litres a day that the books give for its weight in this air, at rest in a stall; none where its weight is not written.
    pub guide: Option<f64>,
    /// Whole minutes in its stall since it last drank.
    pub dry_min: u32,
    /// When its water will be gone if it drinks as on its last days; none while too few are known, or not within a day.
    pub runs_dry: Option<RunsDryView>,
    /// The last drink, refill or spill.
    pub last: Option<WaterHappened>,
    /// Litres of each hour of today that is over or has begun, from midnight.
    #[serde(default)]
    pub hours: Vec<f64>,
    /// Litres of each of the last 14 whole days, the oldest first; none for a day that is not known whole.
    #[serde(default)]
    pub days: Vec<Option<f64>>,
}

/// When water will be gone: one day in ten before the earliest, one in ten after the latest.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct RunsDryView {
    /// One day in ten it is gone before this.
    pub earliest: TimeOfDay,
    /// On the middle day; none where that is not within a day.
    pub usual: Option<TimeOfDay>,
    /// One day in ten it lasts longer; none where that is not within a day.
    pub latest: Option<TimeOfDay>,
    /// On how many days it rests.
    pub days: u32,
}

/// Something that happened to a stall's water.
#[derive(Clone, Copy, PartialEq, Debug, Serialize, Deserialize)]
pub struct WaterHappened {
    /// What.
    pub how: How,
    /// Litres.
    pub litres: f64,
    /// How many whole minutes ago it was over.
    pub ago_min: u32,
}

/// A paddock and its water.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct PaddockView {
    /// Which.
    pub paddock: PlaceId,
    /// All its troughs together.
    pub water: WaterView,
    /// Who said that they filled it, where that was in the last five minutes.
    #[serde(default)]
    pub filled: Option<DoneView>,
}

/// A stop of the filling round.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct FillView {
    /// Where.
    pub place: WaterPlace,
    /// The name of the horse there.
    pub horse: Option<String>,
    /// Litres that it takes to fill it; none where its level is not known.
    pub litres: Option<f64>,
    /// Why now.
    pub why: WhyFill,
}

/// Why a bucket is to be filled on this round.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WhyFill {
    /// It is empty.
    Empty,
    /// It is low.
    Low,
    /// It may be gone before this, by the horse's own days.
    RunsDry(TimeOfDay),
    /// Nobody knows how much is in it: look.
    Unknown,
}

/// What is known of the water of a stall. Not known is never fine.
#[derive(Clone, Copy, PartialEq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WaterView {
    /// The book has no bucket there.
    NoBucket,
    /// Its sensor has never spoken.
    NeverHeard,
    /// The last level, fresh.
    Known {
        /// Litres in the bucket.
        litres: f64,
        /// Share of the full bucket, 0 to 100.
        percent: f64,
        /// Enough, low, or empty.
        state: WaterState,
        /// For how many whole minutes it has been in that state.
        for_min: u32,
    },
    /// Its sensor has gone silent: the last level, which says nothing about now.
    Silent {
        /// Share of the full bucket when last heard.
        last_percent: f64,
        /// For how many whole minutes nothing was heard.
        for_min: u32,
    },
    /// What its sensor says can not be, or can not be believed.
    Faulty {
        /// For how many whole minutes.
        for_min: u32,
        /// What is wrong with it, as far as can be told.
        #[serde(default)]
        fault: Option<Fault>,
    },
}

/// How a bucket is.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WaterState {
    /// Enough.
    Enough,
    /// Low: fill it on the next round.
    Low,
    /// Empty, or what is left can not be drunk: fill it now.
    Empty,
}
