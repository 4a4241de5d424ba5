//! What a screen shows: the only thing a kiosk ever receives. A board is computed whole from the barn, never patched.
//! It holds no rider: a lesson is named by its time and its instructor.
//!
//! Times on a board are minutes after local midnight of [`Board::clock`]'s date, so that a kiosk needs no time zone.
//! Fields may be added within a version; a change of meaning makes a new [`VERSION`].

use serde::{Deserialize, Serialize};

use crate::book::{Role, Side};
use crate::id::{BadgeId, HorseId, LessonId, PersonId, ReaderId, RideId, StallId};
use crate::input::Sensor;
use crate::language::Language;
use crate::limits::DisplayUnits;
use crate::plan::reason::{Hands, Hindrance};
use crate::time::TimeOfDay;

mod aisle;
mod alarm;
mod heat;
mod horse;
mod water;

pub use aisle::{ChoreView, DoneView, HayAnswerView, HayView, StepView, TapView, TurnView, WrongView};
pub use alarm::{AlarmLine, AlarmWhat, AsideView, Priority};
pub use heat::{AheadView, HeatBand, HeatHour, HeatView, PeopleBand};
pub use horse::{
    AwayView, HorseView, Job, JobTime, Links, OpenRide, OtherHorse, Pace, RideView, StirrupsView, TackView, VitalsLine,
    VitalsView, WorkDoneView,
};
pub use water::{DrinkingView, FillView, PaddockView, RunsDryView, WaterHappened, WaterState, WaterView, WhyFill};

/// The version of this format.
pub const VERSION: u32 = 1;

/// The picture of the barn at one moment.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Board {
    /// [`VERSION`] of the hub that made it.
    pub version: u32,
    /// What the barn is called.
    pub barn: String,
    /// How quantities are shown to people. The quantities here are in litres and degrees Celsius all the same.
    pub units: DisplayUnits,
    /// What time it is, if anybody knows.
    pub clock: Clock,
    /// True where staff set it by hand, as the hub's own could not be trusted.
    #[serde(default)]
    pub clock_by_hand: bool,
    /// How the hub itself is.
    pub hub: HubState,
    /// What needs a person, most pressing first.
    pub alarms: Vec<AlarmLine>,
    /// Alarms that staff have put aside, those that come back first in front.
    #[serde(default)]
    pub aside: Vec<AlarmLine>,
    /// Every stall, in the order of the book.
    pub stalls: Vec<StallView>,
    /// Paddocks with water, by name.
    #[serde(default)]
    pub paddocks: Vec<PaddockView>,
    /// Which water to fill now, in the order of the aisle, then the paddocks.
    #[serde(default)]
    pub round: Vec<FillView>,
    /// Today's lessons by time.
    pub lessons: Vec<LessonView>,
    /// The heat, worst place.
    pub heat: HeatView,
    /// The heat of today at the worst place, hour by hour: what was, and what is expected. Empty where too little is known.
    #[serde(default)]
    pub heat_today: Vec<HeatHour>,
    /// The horse sums at which the bands begin, from the lowest.
    #[serde(default)]
    pub heat_bands: Vec<f64>,
    /// What is to be done next, by whom and when; most pressing first.
    pub next: Vec<NextJob>,
    /// What can not be done, by the plan.
    #[serde(default)]
    pub missed: Vec<MissedView>,
    /// Today's chores, by when they are due.
    #[serde(default)]
    pub chores: Vec<ChoreView>,
    /// Today's questions for hay: the open ones first, then the latest.
    #[serde(default)]
    pub hay: Vec<HayView>,
    /// The steps of each job in their order, as the barn wants them done.
    #[serde(default)]
    pub steps: Vec<StepView>,
    /// Everybody who may sign in, by name, and whether they are here.
    pub people: Vec<PersonView>,
    /// The last taps that somebody at the kiosk should see: unknown badges for a minute.
    pub taps: Vec<UnknownTap>,
    /// Whose badges were held to which reader in the last half minute, latest first.
    #[serde(default)]
    pub tapped: Vec<TapView>,
    /// Sensors that talk under the barn's topics and that nobody has placed.
    pub unplaced: u32,
    /// Messages refused since the hub started.
    pub refused: u64,
}

/// Time of day on the board.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Clock {
    /// The clock is not set: lessons can not be told.
    Unset,
    /// Local date and time.
    Set {
        /// Local date.
        date: chrono::NaiveDate,
        /// Local time.
        time: TimeOfDay,
    },
}

/// How the hub is. All well is `Up` and `Up`.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct HubState {
    /// The line to the sensors.
    pub broker: LineView,
    /// What keeps what happened.
    pub journal: LineView,
}

/// A line of the hub's.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LineView {
    /// It works.
    Up,
    /// It has not come up yet since the hub started.
    Starting,
    /// It does not work.
    Down {
        /// For how many whole minutes.
        for_min: u32,
        /// Why, as far as known.
        why: String,
    },
}

/// One stall.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct StallView {
    /// Number or name on the door.
    pub id: StallId,
    /// Which aisle.
    pub aisle: String,
    /// Which side of it, coming in by the main door.
    pub side: Side,
    /// Its water.
    pub water: WaterView,
    /// What its horse drinks.
    #[serde(default)]
    pub drinking: Option<DrinkingView>,
    /// Who cleaned it today.
    #[serde(default)]
    pub cleaned: Option<DoneView>,
    /// Who said that they filled its bucket, where that was in the last five minutes.
    #[serde(default)]
    pub filled: Option<DoneView>,
    /// Who stands in it.
    pub horse: Option<HorseView>,
}

/// A lesson of today.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct LessonView {
    /// Its id.
    pub id: LessonId,
    /// Mount time.
    pub start: TimeOfDay,
    /// Its length in minutes.
    pub minutes: u32,
    /// Who teaches.
    pub instructor: String,
    /// Where.
    pub place: String,
    /// How many horses go.
    pub horses: u32,
    /// How many of them are ready or out.
    pub ready: u32,
    /// How many riders have none: theirs does no more work today, and nobody has said which goes instead.
    #[serde(default)]
    pub without: u32,
}

/// A job to be done next.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct NextJob {
    /// Which ride: where touches on this job go.
    pub ride: RideId,
    /// Which horse.
    pub horse: HorseId,
    /// Its barn name.
    pub name: String,
    /// Where it stands.
    pub stall: StallId,
    /// What.
    pub job: Job,
    /// When it should begin.
    pub start_by: TimeOfDay,
    /// When it must be done.
    pub done_by: TimeOfDay,
    /// Whether it is in time.
    pub pace: Pace,
    /// Who is at it, or to do it by the plan.
    pub who: Who,
    /// True while somebody is at it.
    #[serde(default)]
    pub under_way: bool,
    /// Why staff are called to it, in English.
    #[serde(default)]
    pub why: Option<String>,
    /// The same as a value.
    #[serde(default)]
    pub because: Option<Hands>,
}

/// Whose a job is.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Who {
    /// Nobody's yet: there is no plan, or it is a horse leader's.
    Open,
    /// Any of the staff's: no groom can.
    Staff,
    /// This person's.
    Person {
        /// Their id.
        id: PersonId,
        /// What the aisle calls them.
        name: String,
    },
}

/// An outing that can not be had today, by the plan.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct MissedView {
    /// Its first ride.
    pub ride: RideId,
    /// Which horse.
    pub horse: HorseId,
    /// Its barn name.
    pub name: String,
    /// Where it stands.
    pub stall: StallId,
    /// When it was to be mounted.
    pub mount: TimeOfDay,
    /// Why not, in English.
    pub why: String,
    /// The same as a value.
    #[serde(default)]
    pub because: Option<Hindrance>,
}

/// A person who may sign in.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct PersonView {
    /// Their id.
    pub id: PersonId,
    /// What the aisle calls them.
    pub name: String,
    /// What they do.
    pub role: Role,
    /// Since when they are here today; none where they are not.
    pub since: Option<TimeOfDay>,
    /// True where the end of the last day signed them out, because they forgot to.
    #[serde(default)]
    pub assumed_out: bool,
    /// What they read.
    #[serde(default)]
    pub language: Language,
    /// True where they may act as staff once they have shown their PIN.
    #[serde(default)]
    pub staff: bool,
    /// True where they have a PIN.
    #[serde(default)]
    pub has_pin: bool,
}

/// A badge that nobody knows.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct UnknownTap {
    /// Which.
    pub badge: BadgeId,
    /// Where.
    pub reader: ReaderId,
    /// How many whole seconds ago.
    pub ago_s: u32,
}

/// One sensor, for whoever looks after them. Not on the board: an aisle has no use for it.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct SensorView {
    /// Which.
    pub sensor: Sensor,
    /// How many whole seconds ago it was last heard; none where it never was.
    pub heard_s_ago: Option<u64>,
    /// How many whole seconds ago what it measures last changed. Long ago is no fault in itself.
    pub changed_s_ago: Option<u64>,
    /// Its usual gap between two readings in whole seconds; none while too few are known.
    pub cadence_s: Option<u64>,
    /// True where it says nothing about now.
    pub silent: bool,
    /// What is left in its battery, in percent, where it tells.
    pub battery: Option<f64>,
    /// How strongly it is heard, in dBm, where it tells.
    pub signal: Option<f64>,
}
