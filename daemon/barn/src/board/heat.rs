//! Heat as a screen shows it.

use serde::{Deserialize, Serialize};

use crate::heat::advice::Advice;
use crate::id::{LessonId, PlaceId};
use crate::time::TimeOfDay;

/// Heat at the worst place.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum HeatView {
    /// No place has a sensor that speaks.
    Unknown {
        /// For how many whole minutes; none where none ever spoke.
        for_min: Option<u32>,
    },
    /// The worst place.
    Known {
        /// Where.
        place: PlaceId,
        /// Air temperature in degrees Celsius.
        temperature: f64,
        /// Relative humidity in percent.
        humidity: f64,
        /// The horse sum: degrees Fahrenheit plus percent humidity. Not the NWS heat index.
        horse_sum: f64,
        /// The NWS heat index for people in degrees Celsius, shade and light wind; none out of its range.
        heat_index: Option<f64>,
        /// The band for horses: of the horse sum, or of the floor for dry heat.
        band: HeatBand,
        /// True where humidity makes up over half of the sum: sweat dries badly. Means nothing while the band is carry on.
        humid: bool,
        /// True where the band is higher than the sum's own: dry heat, which the sum misses.
        #[serde(default)]
        dry: bool,
        /// The caution for people, by the NWS heat index, in the shade; full sun adds up to 8 °C (15 °F).
        #[serde(default)]
        people: PeopleBand,
        /// What to do, first things first.
        #[serde(default)]
        advice: Vec<Advice>,
        /// What is expected today. None where nothing changes, or where too little is known to say.
        #[serde(default)]
        ahead: Option<AheadView>,
    },
}

/// The heat of one hour of today.
#[derive(Clone, Copy, PartialEq, Debug, Serialize, Deserialize)]
pub struct HeatHour {
    /// At what local time.
    pub at: TimeOfDay,
    /// The horse sum: as measured, or on the middle of the days that can be expected.
    pub sum: f64,
    /// One day in ten it is below this; the sum itself where it was measured.
    pub low: f64,
    /// One day in ten it is above this; the sum itself where it was measured.
    pub high: f64,
    /// True where it was measured, false where it is expected.
    pub measured: bool,
}

/// How the heat is expected to change today, by this barn's own last days.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum AheadView {
    /// A higher band will be reached.
    Reaches {
        /// Which: the highest that is expected.
        band: HeatBand,
        /// When, as likely sooner as later.
        from: TimeOfDay,
        /// Hardly sooner than this: one chance in ten.
        earliest: TimeOfDay,
        /// Hardly later than this; none where it may well not come at all.
        latest: Option<TimeOfDay>,
        /// When it is left again; none where not today.
        until: Option<TimeOfDay>,
        /// The lessons that it touches.
        lessons: Vec<LessonId>,
    },
    /// The band that is shown will be left for a lower one.
    Leaves {
        /// The band that is left.
        band: HeatBand,
        /// When, as likely sooner as later.
        at: TimeOfDay,
        /// Hardly sooner than this.
        earliest: TimeOfDay,
        /// Hardly later than this; none where it may well stay.
        latest: Option<TimeOfDay>,
        /// The lessons that it still touches.
        lessons: Vec<LessonId>,
    },
}

/// Cautions for people, by the heat index of the US National Weather Service.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PeopleBand {
    /// None.
    #[default]
    NoCaution,
    /// Tiredness is possible with long work.
    Caution,
    /// Cramps and exhaustion are possible.
    ExtremeCaution,
    /// Cramps and exhaustion are likely.
    Danger,
    /// Heat stroke is likely.
    ExtremeDanger,
}

/// Bands of heat for horses: of the horse sum, and of the floor for dry heat.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum HeatBand {
    /// Carry on.
    CarryOn,
    /// Begin to watch.
    Watch,
    /// Critical to monitor.
    Critical,
    /// Choose another time.
    Stop,
}
