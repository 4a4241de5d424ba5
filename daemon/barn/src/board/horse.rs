//! A horse as a screen shows it: its rides of today, its tack, how it is.

use serde::{Deserialize, Serialize};

use super::aisle::WrongView;
use crate::book::TackKind;
use crate::care::observed::Observed;
use crate::care::vitals::{Condition, Urgency, Vital};
use crate::id::{HorseId, RideId};
use crate::input::Mark;
use crate::time::TimeOfDay;

/// A horse on the board.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct HorseView {
    /// Its id.
    pub id: HorseId,
    /// Its barn name.
    pub name: String,
    /// How hard it is to handle, 1 to 3.
    pub grade: u8,
    /// How it likes to be handled, a line each.
    pub notes: Vec<String>,
    /// The same in Spanish, where somebody has written it.
    #[serde(default)]
    pub notes_spanish: Vec<String>,
    /// Its rides of today that are not over, by time; the first is the one to ready it for, or to put it away after.
    pub rides: Vec<RideView>,
    /// How long its jobs are taken to last.
    #[serde(default)]
    pub minutes: Vec<JobTime>,
    /// True where it does no more work today.
    #[serde(default)]
    pub scratched: bool,
    /// Its rides of today that it does not go any more, by time: another horse has to, or none.
    #[serde(default)]
    pub open_rides: Vec<OpenRide>,
    /// Where it is not to be had just now.
    #[serde(default)]
    pub away: Option<AwayView>,
    /// What somebody said is wrong with it.
    #[serde(default)]
    pub wrong: Option<WrongView>,
    /// What was last observed of it; none where nobody has.
    #[serde(default)]
    pub vitals: Option<VitalsView>,
    /// What it has done today and this week; none while the clock is not set.
    #[serde(default)]
    pub work: Option<WorkDoneView>,
}

/// A ride without a horse.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct OpenRide {
    /// Which.
    pub id: RideId,
    /// When the rider is to mount.
    pub mount: TimeOfDay,
    /// Who goes instead, where that is chosen.
    #[serde(default)]
    pub instead: Option<OtherHorse>,
}

/// A horse that goes in place of another.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct OtherHorse {
    /// Which.
    pub id: HorseId,
    /// Its barn name.
    pub name: String,
}

/// The last observations of a horse.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct VitalsView {
    /// At least one, latest first.
    pub last: Vec<VitalsLine>,
}

/// One observation, and what was said to it.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct VitalsLine {
    /// What the aisle calls who made it.
    pub by: String,
    /// How many whole minutes ago.
    pub ago_min: u32,
    /// On which local date; none where no clock was set.
    pub date: Option<chrono::NaiveDate>,
    /// At what local time of that date.
    pub time: Option<TimeOfDay>,
    /// Whether the horse had worked.
    pub condition: Condition,
    /// What was measured and seen, in degrees Celsius, counts in a minute, seconds.
    pub seen: Observed,
    /// How pressing it is.
    pub urgency: Urgency,
    /// What differs from what, a sentence each.
    pub cautions: Vec<String>,
    /// What each of them is about, in the same order.
    #[serde(default)]
    pub about: Vec<Vital>,
    /// What was not judged, and when it can be.
    pub notes: Vec<String>,
    /// What to do and whose word counts; empty where nothing differs.
    pub advice: String,
}

/// What a horse has done, by what people said, beside the limits that were set for it. At least that: what nobody said is
/// not known. A limit that is not there was not set.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct WorkDoneView {
    /// Rides today.
    pub rides: u32,
    /// Rides a day, at most.
    pub most_rides: Option<u32>,
    /// Whole minutes of riding today.
    pub minutes: u32,
    /// Minutes a day, at most.
    pub most_minutes: Option<u32>,
    /// Most whole minutes of riding without a rest that reach into today.
    pub in_a_row: u32,
    /// Minutes without a rest, at most.
    pub most_in_a_row: Option<u32>,
    /// Rides this week, Monday to Sunday.
    pub rides_this_week: u32,
    /// Whole minutes of riding this week.
    pub minutes_this_week: u32,
    /// Days of this week with a ride, today too.
    pub days_this_week: u32,
    /// Days a week, at most.
    pub most_days: Option<u32>,
    /// What of it is above a limit, in words. The equine professional decides.
    pub above: Vec<String>,
}

/// How long a job on a horse is taken to last.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct JobTime {
    /// Which job.
    pub job: Job,
    /// Whole minutes.
    pub minutes: u32,
    /// On how many times it rests that were seen; none where it is the barn's own figure.
    pub times: u32,
}

/// An absence of a horse's.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct AwayView {
    /// Until when.
    pub until: TimeOfDay,
    /// Why: "turn-out", "farrier", "vet".
    pub why: String,
}

/// A ride of today.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct RideView {
    /// Its id.
    pub id: RideId,
    /// For what.
    pub usage: String,
    /// When the rider mounts.
    pub mount: TimeOfDay,
    /// When the horse must be ready.
    pub ready_by: TimeOfDay,
    /// When its preparation should begin.
    pub start_by: TimeOfDay,
    /// Who teaches.
    pub instructor: String,
    /// Where.
    pub place: String,
    /// The three links, brushed, tacked, led out, and what comes after.
    pub links: Links,
    /// True where the horse is put away after this ride, and not after a later one under the same tack.
    #[serde(default = "yes")]
    pub last: bool,
    /// True where the horse does no more work, and was not led out yet: its tack comes off again.
    #[serde(default)]
    pub off: bool,
    /// Whether it is in time.
    pub pace: Pace,
    /// Its tack, in the order it goes on.
    pub tack: Vec<TackView>,
    /// Stirrup lengths, where stirrups are used.
    pub stirrups: Option<StirrupsView>,
}

/// How far the three links are closed.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Links {
    /// Brushed.
    pub brush: Mark,
    /// Tacked.
    pub tack: Mark,
    /// Led out.
    pub lead_out: Mark,
    /// Brought back. After the three links, and none of them.
    #[serde(default = "open")]
    pub bring_back: Mark,
    /// Put away.
    #[serde(default = "open")]
    pub put_away: Mark,
}

fn yes() -> bool {
    true
}

fn open() -> Mark {
    Mark::Open
}

/// Whether a horse is in time for its lesson, by the minutes its open jobs still take.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Pace {
    /// Not yet time to begin.
    Later,
    /// Time to be at it.
    Now,
    /// Behind: it will not be ready in time unless somebody helps.
    Late,
    /// Ready, or out.
    Ready,
}

/// A piece of tack for a ride.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct TackView {
    /// Kind.
    pub kind: TackKind,
    /// Name, with its size.
    pub name: String,
    /// Where it hangs.
    pub place: String,
    /// How, where it matters.
    pub note: String,
    /// The same in Spanish; empty where nobody has written it.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note_spanish: String,
}

/// Stirrup lengths.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct StirrupsView {
    /// Left.
    pub left: u8,
    /// Right.
    pub right: u8,
}

/// Jobs on a horse.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Job {
    /// Groom it and look it over.
    Brush,
    /// Put its tack on.
    Tack,
    /// Hand it over.
    LeadOut,
    /// Untack it, disinfect and hang the girth, brush it, back to its stall.
    PutAway,
}
