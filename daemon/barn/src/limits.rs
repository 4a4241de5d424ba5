//! The limits in force: what the barn has set, or what this project proposes. They are an input like any other, so that a
//! recorded day can be played again with other limits.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::alarm::cause::OutOfService;
use crate::id::PersonId;
use crate::time::{TimeOfDay, Zone};
use crate::units::{Celsius, Fahrenheit, Minutes, PerMinute, Percent};

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
    /// When frost is a caution.
    #[serde(default)]
    pub frost: FrostLimits,
    /// When a sensor is silent, its battery low, its clock not to be believed.
    pub sensors: SensorLimits,
    /// How a horse is readied in time.
    pub lessons: LessonLimits,
    /// How people sign in and out.
    pub shift: ShiftLimits,
    /// What the prep plan goes by.
    #[serde(default)]
    pub plan: PlanLimits,
    /// How far a horse's signs may lie from its own.
    #[serde(default)]
    pub care: CareLimits,
    /// What is said and asked in the aisle.
    #[serde(default)]
    pub aisle: AisleLimits,
    /// How an alarm comes and goes.
    #[serde(default)]
    pub alarms: AlarmLimits,
    /// Who is told of it, and when.
    #[serde(default)]
    pub tell: TellLimits,
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
    /// Its alarm is of medium priority until it has been empty for so long, and high from then on, or as soon as the heat is
    /// critical: how soon somebody must come is what a priority says, and a horse can do without water for a while. Common
    /// practice.
    pub empty_presses_after: Minutes,
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
            empty_presses_after: Minutes(30),
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
    /// Under this air temperature the sum says nothing: cold air is nearly always damp. Ours, from memory; well under any
    /// temperature at which horse sport takes measures, and 10 °C over the lower end of what horses find comfortable (5 to
    /// 25 °C; Kang et al. 2023).
    #[serde(default = "from_air")]
    pub from_air: Celsius,
    /// The floor for dry heat.
    #[serde(default)]
    pub floor: FloorLimits,
    /// The caution for people.
    #[serde(default)]
    pub people: PeopleLimits,
    /// When sensors disagree beyond reason.
    #[serde(default)]
    pub doubt: DoubtLimits,
    /// A lesson that begins within so long and is expected in a band from "critical" on is told ahead.
    #[serde(default = "ahead")]
    pub ahead: Minutes,
}

fn from_air() -> Celsius {
    Celsius(15.0)
}

fn ahead() -> Minutes {
    Minutes(180)
}

/// The floor under the horse sum, which misses dry heat: the open-air estimate of WBGT, and the air temperature alone.
/// Horses of a riding programme for people with disabilities are rarely fit and used to heat, so each limit is at
/// or under what sport says of fit horses.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct FloorLimits {
    /// From this open-air WBGT on: at least begin to watch. The FEI's measures begin over 28 °C (its statement on Versailles,
    /// 2024).
    pub watch_wbgt: Celsius,
    /// From this open-air WBGT on: at least critical to monitor. 32 °C is a step of the FEI's ladder, from memory; the upper
    /// limit for fit, fully acclimatised horses is 32.5 °C (Schroter and Marlin 1995), and Equestrian Australia speaks of high
    /// risk over 33 °C (2019).
    pub critical_wbgt: Celsius,
    /// From this air temperature on: choose another time, however dry the air. Equestrian Australia calls 40 °C with 25 % not
    /// compatible with safe competition.
    pub stop_air: Celsius,
    /// Any of them, and [`HeatLimits::from_air`], is left this far under. Ours: twice a sensor's usual error.
    pub deadband: Celsius,
}

impl Default for FloorLimits {
    fn default() -> Self {
        Self {
            watch_wbgt: Celsius(28.0),
            critical_wbgt: Celsius(32.0),
            stop_air: Celsius(40.0),
            deadband: Celsius(1.0),
        }
    }
}

/// The ladder for people, on the heat index of the US National Weather Service: 80, 90, 103 and 125 °F, its newer one (an
/// older one, still in print, has 105 and 130).
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct PeopleLimits {
    /// Caution from here on.
    pub caution: Fahrenheit,
    /// Extreme caution from here on.
    pub extreme_caution: Fahrenheit,
    /// Danger from here on.
    pub danger: Fahrenheit,
    /// Extreme danger from here on.
    pub extreme_danger: Fahrenheit,
    /// The index must fall this far under a limit before the step is left. Ours: a sensor error of 0.5 °C and 2 % moves it by
    /// about this much where it matters.
    pub deadband: Fahrenheit,
}

impl Default for PeopleLimits {
    fn default() -> Self {
        Self {
            caution: Fahrenheit(80.0),
            extreme_caution: Fahrenheit(90.0),
            danger: Fahrenheit(103.0),
            extreme_danger: Fahrenheit(125.0),
            deadband: Fahrenheit(2.0),
        }
    }
}

/// When climate sensors disagree beyond reason. Ours, from memory: an arena in the sun and a shaded aisle can well be 5 °C
/// apart, and they share their air, so that their dew points stay closer.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct DoubtLimits {
    /// Air temperatures further apart than this are doubted.
    pub apart: Celsius,
    /// Dew points further apart than this are doubted.
    pub dew_apart: Celsius,
    /// They must stay apart so long.
    pub after: Minutes,
}

impl Default for DoubtLimits {
    fn default() -> Self {
        Self { apart: Celsius(8.0), dew_apart: Celsius(7.0), after: Minutes(30) }
    }
}

/// Limits on frost: buckets and pipes. From memory: water freezes at 0 °C, and the bucket and the pipe are at the wall, where it
/// is colder than at the sensor.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct FrostLimits {
    /// At or under this and falling: soon.
    pub near: Celsius,
    /// At or under this: now. The night ahead is told where it is expected to get so cold.
    pub freezing: Celsius,
    /// The air must rise this far past a limit before it is left.
    pub deadband: Celsius,
    /// It must last so long before it is an alarm.
    pub alarm_after: Minutes,
}

impl Default for FrostLimits {
    fn default() -> Self {
        Self { near: Celsius(3.0), freezing: Celsius(1.0), deadband: Celsius(1.0), alarm_after: Minutes(30) }
    }
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

/// Limits on what somebody measured of a horse. What is printed with a source is no limit: all of it is told.
#[derive(Clone, Copy, PartialEq, Debug, Serialize, Deserialize)]
#[serde(default)]
pub struct CareLimits {
    /// How far a temperature may lie from the horse's own at rest: one degree Fahrenheit. Common practice; no source.
    pub own_temperature_apart: Celsius,
    /// The same for the pulse. Common practice; no source.
    pub own_pulse_apart: PerMinute,
    /// The same for breaths. Common practice; no source.
    pub own_breaths_apart: PerMinute,
    /// So long after work a horse is judged as one that has worked. From memory, verify: the gates of endurance rides allow
    /// 30 minutes.
    pub after_work: Minutes,
    /// Sooner than this after work pulse and breaths say little. From memory, verify.
    pub count_again: Minutes,
    /// A pulse over this, 10 to 15 minutes after light work, is to be looked at. From memory, verify.
    pub pulse_after_work: PerMinute,
}

impl Default for CareLimits {
    fn default() -> Self {
        Self {
            own_temperature_apart: Celsius(0.6),
            own_pulse_apart: PerMinute(8.0),
            own_breaths_apart: PerMinute(6.0),
            after_work: Minutes(30),
            count_again: Minutes(10),
            pulse_after_work: PerMinute(60.0),
        }
    }
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

/// Limits on what is said and asked in the aisle.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct AisleLimits {
    /// A question for hay that nobody has answered for so long is an alarm. Common practice.
    pub hay_unanswered: Minutes,
}

impl Default for AisleLimits {
    fn default() -> Self {
        Self { hay_unanswered: Minutes(10) }
    }
}

/// How an alarm comes and goes. Figures without a source are ours, from memory of what works.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(default)]
pub struct AlarmLimits {
    /// The cause of an alarm of the hub's or a sensor's must be gone for so many seconds before the alarm ends.
    pub off_delay_s: u32,
    /// A cause that comes so often within an hour comes and goes: that is said once, and nothing more until it keeps still.
    /// EEMUA 191 and ISA-18.2 speak of three or more a minute for a console operator, from memory.
    pub chatter_raises: u32,
    /// It keeps still once it has been gone, or has stood, for so long.
    pub chatter_steady: Minutes,
    /// So many sensors that go silent within ten minutes are one alarm: a line or a radio, and not each of them.
    pub many_silent: u32,
    /// A sensor that has been silent for so long must be seen to today; until then the morning's digest is soon enough.
    pub silent_pressing: Minutes,
    /// More alarms than this in ten minutes are a flood, told as one summary. EEMUA 191, by a vendor's reprint: 10.
    pub flood: u32,
    /// Less room than this on the hub's disk is said, in MiB; a tenth of it is pressing.
    pub disk_low_mib: u32,
    /// A horse that will be late for its lesson by so long is an alarm.
    pub late: Minutes,
    /// Nobody is signed in so long before the next lesson.
    pub nobody_before: Minutes,
    /// The clock is not set for so long after the hub started.
    pub clock_after: Minutes,
    /// Sensors and rules that are out of service: nothing is raised for them, and the digest names them.
    pub out_of_service: BTreeSet<OutOfService>,
}

impl Default for AlarmLimits {
    fn default() -> Self {
        Self {
            off_delay_s: 10,
            chatter_raises: 3,
            chatter_steady: Minutes(30),
            many_silent: 5,
            silent_pressing: Minutes(60),
            flood: 10,
            disk_low_mib: 500,
            late: Minutes(10),
            nobody_before: Minutes(30),
            clock_after: Minutes(10),
            out_of_service: BTreeSet::new(),
        }
    }
}

/// Who is told of an alarm, and when. The steps are staff on shift, the equine professional, the manager; a step that finds
/// nobody is passed at once. No source: ours.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(default)]
pub struct TellLimits {
    /// A high alarm that nobody has taken goes on to the equine professional after this,
    pub high_second: Minutes,
    /// and to the manager after this. Day and night.
    pub high_third: Minutes,
    /// A medium one goes on to the equine professional after this,
    pub medium_second: Minutes,
    /// and to the manager after this. Not in the quiet hours.
    pub medium_third: Minutes,
    /// The quiet hours begin, local time: what is not high waits for their end.
    pub quiet_from: TimeOfDay,
    /// The quiet hours end. The same as their beginning: there are none.
    pub quiet_to: TimeOfDay,
    /// When the digest of the morning is sent, local time.
    pub digest_at: TimeOfDay,
    /// On which day of the week it is sent even where there is nothing to say. Monday is 0.
    pub heartbeat_on: u8,
    /// Who can be reached by a message: those for whom the hub has an address.
    pub reachable: BTreeSet<PersonId>,
}

impl Default for TellLimits {
    fn default() -> Self {
        let hour = |hour| TimeOfDay::new(hour, 0).unwrap_or(TimeOfDay::ELEVEN_PM);
        Self {
            high_second: Minutes(5),
            high_third: Minutes(10),
            medium_second: Minutes(15),
            medium_third: Minutes(30),
            quiet_from: hour(21),
            quiet_to: hour(6),
            digest_at: hour(7),
            heartbeat_on: 0,
            reachable: BTreeSet::new(),
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
            heat: HeatLimits {
                watch: 130.0,
                critical: 150.0,
                stop: 180.0,
                deadband: 3.0,
                alarm_after: Minutes(10),
                from_air: from_air(),
                floor: FloorLimits::default(),
                people: PeopleLimits::default(),
                doubt: DoubtLimits::default(),
                ahead: ahead(),
            },
            frost: FrostLimits::default(),
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
            care: CareLimits::default(),
            aisle: AisleLimits::default(),
            alarms: AlarmLimits::default(),
            tell: TellLimits::default(),
        }
    }
}
