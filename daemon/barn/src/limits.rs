//! The limits in force: what the barn has set, or what this project proposes. They are an input like any other, so that a
//! recorded day can be played again with other limits.

use serde::{Deserialize, Serialize};

use crate::time::{TimeOfDay, Zone};
use crate::units::{Celsius, Minutes, Percent};

/// All limits.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Limits {
    /// What the barn is called.
    pub barn: String,
    /// Where its days begin and its lessons live.
    pub zone: Zone,
    /// How quantities are shown to people.
    pub units: DisplayUnits,
    /// When a bucket is low, empty, and an alarm.
    pub water: WaterLimits,
    /// When heat is a caution.
    pub heat: HeatLimits,
    /// When a sensor is silent, its battery low, its clock not to be believed.
    pub sensors: SensorLimits,
    /// How a horse is readied in time.
    pub lessons: LessonLimits,
    /// How people sign in and out.
    pub shift: ShiftLimits,
    /// What the prep plan goes by.
    #[serde(default)]
    pub plan: PlanLimits,
}

/// How quantities are shown to people.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DisplayUnits {
    /// Degrees Fahrenheit, US gallons.
    UsCustomary,
    /// Degrees Celsius, litres.
    Metric,
}

/// Limits on water.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(default)]
pub struct WaterLimits {
    /// At or under this share of the bucket it is low. Common practice: a quarter.
    pub low: Percent,
    /// At or under this share it counts as empty: what is left can not be drunk.
    pub empty: Percent,
    /// A level must rise this far past a limit before it is left again.
    pub deadband: Percent,
    /// Empty for so long and not refilled is an alarm. An empty bucket just after a drink is normal.
    pub empty_alarm_after: Minutes,
    /// Low for so long and not refilled is said. Common practice.
    pub low_alarm_after: Minutes,
    /// The filling round takes in what may run dry within this. Common practice: until the next round.
    pub round_ahead: Minutes,
    /// A horse that has stood in its stall for so long without drinking is a caution, whatever it usually does. A web guide:
    /// 6 to 8 hours.
    pub not_drinking_after: Minutes,
    /// And after this even where its own longest pause is longer. From memory: half a day.
    pub not_drinking_at_most: Minutes,
    /// Under this share of its habit in 24 hours is a caution. Common practice.
    pub drinks_little: Percent,
    /// Over this share of its habit in 24 hours is a caution. From cool days to hot ones intake nearly doubles (NRC 2007, from
    /// memory: 25 to 48 L), which must not be one.
    pub drinks_much: Percent,
    /// Too little or too much for so long.
    pub amount_alarm_after: Minutes,
    /// At this air temperature and below a bucket freezes in time. Water freezes at 0 °C by definition; the margin is
    /// common practice.
    pub ice_below: Celsius,
    /// So cold for so long, and not drunk from for so long: it may be frozen. Common practice.
    pub ice_after: Minutes,
}

impl Default for WaterLimits {
    fn default() -> Self {
        Self {
            low: Percent(25.0),
            empty: Percent(6.0),
            deadband: Percent(4.0),
            empty_alarm_after: Minutes(10),
            low_alarm_after: Minutes(30),
            round_ahead: Minutes(180),
            not_drinking_after: Minutes(8 * 60),
            not_drinking_at_most: Minutes(12 * 60),
            drinks_little: Percent(50.0),
            drinks_much: Percent(220.0),
            amount_alarm_after: Minutes(60),
            ice_below: Celsius(-1.0),
            ice_after: Minutes(120),
        }
    }
}

/// Limits on heat. The bands are those of the horse sum, degrees Fahrenheit plus percent humidity.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct HeatLimits {
    /// From this sum on: begin to watch. US Equestrian's heat-alert clarification: 130.
    pub watch: f64,
    /// From this sum on: critical to monitor. US Equestrian: 150, taken inclusive, the cautious side.
    pub critical: f64,
    /// From this sum on: choose another time. US Equestrian: 180, taken inclusive, the cautious side.
    pub stop: f64,
    /// The sum must fall this far under a limit before the band is left. A sensor error of 0.5 °C and 2 % moves it by 2.9.
    pub deadband: f64,
    /// A higher band must last so long before it is an alarm.
    pub alarm_after: Minutes,
}

/// Limits on sensors.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct SensorLimits {
    /// Silent after so many of its own usual gaps without a word.
    pub silent_after_gaps: u32,
    /// Never silent before this, however fast its cadence.
    pub silent_at_least: Minutes,
    /// Silent after this where its cadence is not known yet, and whatever its cadence.
    pub silent_at_most: Minutes,
    /// A battery at or under this is low.
    pub battery_low: Percent,
    /// A sensor's own time is believed up to this much ahead of arrival.
    pub own_time_ahead: Minutes,
    /// And up to this much behind.
    pub own_time_behind: Minutes,
}

/// Limits on lessons.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct LessonLimits {
    /// A horse is ready this long before it is mounted.
    pub ready_lead: Minutes,
}

/// Limits on signing in and out.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct ShiftLimits {
    /// A second tap of one badge within this is the same tap.
    pub same_tap_s: u32,
    /// When the barn's day ends: who is still signed in is signed out, marked as assumed.
    pub day_ends: TimeOfDay,
}

/// What the prep plan goes by. The figures proposed are common practice of the trade; no source.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct PlanLimits {
    /// From the last dismount to the stall.
    pub walk_back: Minutes,
    /// A horse that is back may stand under its tack so long.
    pub stand: Minutes,
    /// A disinfected girth hangs so long before its next use.
    pub girth_dry: Minutes,
    /// A horse whose next ride, under the same tack, follows its last dismount within so long stays tacked.
    pub stay_tacked: Minutes,
    /// So far ahead the plan that people have seen is a promise.
    pub promise: Minutes,
    /// Who is here and on no sheet is taken to stay so long.
    pub stays: Minutes,
    /// Who is on the sheet and not here is waited for so long.
    pub waited_for: Minutes,
    /// A plan that costs less than this much less is not worth unrest. In the plan's own units, of which two are a minute
    /// of a horse's waiting.
    pub calm: u32,
}

impl Default for PlanLimits {
    fn default() -> Self {
        Self {
            walk_back: Minutes(5),
            stand: Minutes(15),
            girth_dry: Minutes(10),
            stay_tacked: Minutes(20),
            promise: Minutes(30),
            stays: Minutes(240),
            waited_for: Minutes(15),
            calm: 40,
        }
    }
}

impl Default for Limits {
    /// What this project proposes where the barn has set nothing.
    fn default() -> Self {
        Self {
            barn: "the barn".to_owned(),
            zone: Zone(chrono_tz::UTC),
            units: DisplayUnits::UsCustomary,
            water: WaterLimits::default(),
            heat: HeatLimits { watch: 130.0, critical: 150.0, stop: 180.0, deadband: 3.0, alarm_after: Minutes(10) },
            sensors: SensorLimits {
                silent_after_gaps: 5,
                silent_at_least: Minutes(5),
                silent_at_most: Minutes(60),
                battery_low: Percent(15.0),
                own_time_ahead: Minutes(2),
                own_time_behind: Minutes(7 * 24 * 60),
            },
            lessons: LessonLimits { ready_lead: Minutes(10) },
            shift: ShiftLimits { same_tap_s: 5, day_ends: TimeOfDay::ELEVEN_PM },
            plan: PlanLimits::default(),
        }
    }
}
