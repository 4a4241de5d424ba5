//! The day file as it is written: what a program or a person hands in, not yet looked at.
//!
//! Numbers are wider here than in a [`Day`](super::Day), so that a wrong one is refused with its place and not by the
//! reader of JSON. All times are whole minutes after local midnight. Keys that are not known are passed over.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::reason::Why;

/// A day: who is there, which rides, what they need, and in a re-plan what has happened so far.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct DayFile {
    /// Lengths of time that the barn has agreed on.
    pub limits: LimitsFile,
    /// What each thing that is less than perfect costs.
    pub costs: CostsFile,
    /// Who can be given work.
    pub grooms: Vec<GroomFile>,
    /// The horses.
    pub horses: Vec<HorseFile>,
    /// Saddles, girths, pads: each piece of gear by its id.
    pub gear: Vec<String>,
    /// One horse in one lesson each.
    pub rides: Vec<RideFile>,
    /// The minute it is. Absent in a fresh plan.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub now: Option<i64>,
    /// Jobs done or under way.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub progress: Vec<ProgressFile>,
    /// How reasons are told.
    #[serde(default, skip_serializing_if = "WordsFile::is_empty")]
    pub words: WordsFile,
    /// The plan that people have seen, by ride. It may name people and rides that are gone since.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub published: BTreeMap<String, JobsFile>,
}

/// How reasons are told: what people call things that have ids, and how the clock on the wall runs. What is not here is
/// called by its id.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
pub struct WordsFile {
    /// Grooms by id.
    #[serde(default)]
    pub grooms: BTreeMap<String, String>,
    /// Horses by id.
    #[serde(default)]
    pub horses: BTreeMap<String, String>,
    /// Gear by id.
    #[serde(default)]
    pub gear: BTreeMap<String, String>,
    /// By how many minutes the clock on the wall is ahead of the day's minutes while people work: other than none where clocks
    /// changed in the night.
    #[serde(default)]
    pub clock_ahead: i64,
}

impl WordsFile {
    fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

/// Lengths of time, in minutes.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct LimitsFile {
    /// From ready to the mount.
    pub ready_lead: i64,
    /// From the dismount to the stall.
    pub walk_back: i64,
    /// How long a horse may stand tacked after it is back before it is a nuisance to it.
    pub stand: i64,
    /// How long a disinfected girth hangs before its next use.
    pub girth_dry: i64,
    /// How long a horse may stay tacked between two rides.
    pub stay_tacked: i64,
    /// How far ahead the published plan is a promise.
    pub promise: i64,
}

/// Costs, in units that only compare.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct CostsFile {
    /// An outing missed, times its weight.
    pub missed: i64,
    /// A job given to staff, times the outing's weight.
    pub staff: i64,
    /// A minute late, times the outing's weight.
    pub late: i64,
    /// A minute standing beyond the limit.
    pub standing: i64,
    /// A minute between back and put away.
    pub back_wait: i64,
    /// A minute tacked before ready.
    pub saddled_wait: i64,
    /// A minute between brush and tack.
    pub brushed_wait: i64,
    /// An outing brushed and tacked by different hands.
    pub handover: i64,
    /// A promised job that goes to other hands.
    pub reshuffle: i64,
    /// A minute worked by whom works most.
    pub busiest: i64,
}

/// A groom.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct GroomFile {
    /// The id; `staff` is taken.
    pub id: String,
    /// Shift begins.
    pub on: i64,
    /// Shift ends.
    pub off: i64,
    /// Cleared for horses up to this grade.
    pub grade: i64,
    /// From, to: not to be had.
    #[serde(default)]
    pub away: Vec<[i64; 2]>,
}

/// A horse.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct HorseFile {
    /// The id.
    pub id: String,
    /// How hard it is to handle.
    pub grade: i64,
    /// From, to: not to be had.
    #[serde(default)]
    pub away: Vec<[i64; 2]>,
}

/// A ride.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct RideFile {
    /// The id.
    pub id: String,
    /// The horse's id.
    pub horse: String,
    /// When the rider mounts.
    pub mount: i64,
    /// How long the ride is.
    pub minutes: i64,
    /// Ids of the gear it needs.
    pub gear: Vec<String>,
    /// Minutes to brush.
    pub brush: i64,
    /// Minutes to tack up.
    pub tack: i64,
    /// Minutes to put away.
    pub put_away: i64,
    /// How much the ride matters.
    pub weight: i64,
}

/// A job done or under way.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct ProgressFile {
    /// The ride that the outing has its name from.
    pub ride: String,
    /// `brush`, `tack` or `put_away`.
    pub job: String,
    /// A groom's id, or `staff`.
    pub groom: String,
    /// When it was begun.
    pub from: i64,
    /// When it was done; null while it is under way.
    pub to: Option<i64>,
}

/// Jobs of an outing, as a plan has them.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct JobsFile {
    /// Brush.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub brush: Option<JobFile>,
    /// Tack up.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tack: Option<JobFile>,
    /// Put away.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub put_away: Option<JobFile>,
}

/// Who, and from when.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct JobFile {
    /// A groom's id, or `staff`.
    pub groom: String,
    /// The minute it begins.
    pub start: i64,
}

/// The plan file.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct PlanFile {
    /// What the plan costs.
    pub cost: i64,
    /// Whether no plan is cheaper.
    pub proved: bool,
    /// A cost that no plan can be under.
    pub bound: i64,
    /// Every outing, by ready, then id.
    pub outings: Vec<OutingFile>,
}

/// An outing in the plan file.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct OutingFile {
    /// The ride that the outing has its name from.
    pub ride: String,
    /// It can not be done.
    pub missed: bool,
    /// Its three jobs, where it is not missed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub jobs: Option<JobsFile>,
    /// Why it is missed, or why staff are called, in English.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
    /// The same as a value.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub because: Option<Why>,
}
