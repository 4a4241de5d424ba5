//! A day that can be planned: every id known, every number in range, indices instead of ids.
//!
//! Everything wrong in a day file is found before anybody is told, each with its place, what stands there and what is
//! allowed. What is made of it here can not be wrong any more, so the planner has no errors.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::check::Checker;
use super::file::{CostsFile, DayFile, LimitsFile};

/// Minutes after local midnight of the day's first midnight, or a length of time in minutes.
pub type Minute = i32;

/// The latest minute that a day file may name: two days on.
pub const LAST_MINUTE: Minute = 2 * 1440;

/// The three jobs of an outing, in their order; the index of each in arrays of three.
pub const JOBS: [Job; 3] = [Job::Brush, Job::Tack, Job::PutAway];

/// A job of an outing.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Job {
    /// Brush the horse.
    Brush = 0,
    /// Tack it up.
    Tack = 1,
    /// Untack it, disinfect and hang the girth, brush it.
    PutAway = 2,
}

impl Job {
    /// The job's name in day and plan files.
    pub fn name(self) -> &'static str {
        match self {
            Job::Brush => "brush",
            Job::Tack => "tack",
            Job::PutAway => "put_away",
        }
    }
}

/// Who does a job: a groom by index, or whoever of the staff comes to help.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub struct Hand(u16);

impl Hand {
    /// Any member of staff.
    pub const STAFF: Hand = Hand(u16::MAX);
    /// Somebody whom the published plan names and who is not in the day any more.
    pub(super) const GONE: Hand = Hand(u16::MAX - 1);

    /// A groom, by index in [`Day::grooms`], under 1,000.
    pub fn of(groom: usize) -> Hand {
        Hand(groom as u16)
    }

    /// The groom's index in [`Day::grooms`]; `None` for staff.
    pub fn groom(self) -> Option<usize> {
        (self.0 < Self::GONE.0).then_some(usize::from(self.0))
    }
}

/// A span of minutes, the end not included.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Span {
    /// The first minute.
    pub from: Minute,
    /// The first minute after it.
    pub to: Minute,
}

impl Span {
    /// Whether two spans share time. An empty span inside another one does; at its edge it does not.
    pub fn overlaps(self, other: Span) -> bool {
        self.from < other.to && other.from < self.to
    }
}

/// A groom.
#[derive(Clone, PartialEq, Debug)]
pub struct Groom {
    /// The id in the day file.
    pub id: String,
    /// What people call it, or them.
    pub name: String,
    /// On shift.
    pub shift: Span,
    /// Cleared for horses up to this grade.
    pub grade: i64,
    /// Not to be had.
    pub away: Vec<Span>,
}

/// A horse.
#[derive(Clone, PartialEq, Debug)]
pub struct Horse {
    /// The id in the day file.
    pub id: String,
    /// What people call it, or them.
    pub name: String,
    /// How hard it is to handle.
    pub grade: i64,
    /// Not to be had.
    pub away: Vec<Span>,
}

/// A job that has begun: it stays as it is.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Begun {
    /// Who does it.
    pub hand: Hand,
    /// From when, and until when: when it was done, or is expected to be.
    pub span: Span,
    /// It is not done yet.
    pub under_way: bool,
}

/// One horse under one set of tack: one ride, or several that follow each other closely.
#[derive(Clone, PartialEq, Debug)]
pub struct Outing {
    /// Id of its first ride.
    pub id: String,
    /// Index in [`Day::horses`].
    pub horse: usize,
    /// Indices in [`Day::gear`], ascending.
    pub gear: Vec<usize>,
    /// The greatest weight of its rides.
    pub weight: i64,
    /// When its first rider mounts.
    pub mount: Minute,
    /// When it should be tacked.
    pub ready: Minute,
    /// When it is at its stall after the last ride.
    pub back: Minute,
    /// Lengths of brush, tack and put away.
    pub minutes: [Minute; 3],
    /// What has begun.
    pub begun: [Option<Begun>; 3],
    /// To whom a job was promised that begins soon.
    pub promised: [Option<Hand>; 3],
}

impl Outing {
    /// Whether it can still be missed: its tack has not begun.
    pub fn can_be_missed(&self) -> bool {
        self.begun[Job::Tack as usize].is_none()
    }
}

/// A day, checked.
#[derive(Clone, PartialEq, Debug)]
pub struct Day {
    /// Lengths of time, each 0 to [`LAST_MINUTE`].
    pub limits: LimitsFile,
    /// Costs, each 0 to a million.
    pub costs: CostsFile,
    /// Who can be given work.
    pub grooms: Vec<Groom>,
    /// The horses.
    pub horses: Vec<Horse>,
    /// Ids of the gear.
    pub gear: Vec<String>,
    /// What people call each piece of gear.
    pub gear_names: Vec<String>,
    /// By how many minutes the clock on the wall is ahead of the day's minutes.
    pub clock_ahead: Minute,
    /// The outings by ready, then id.
    pub outings: Vec<Outing>,
    /// The minute it is, in a re-plan.
    pub now: Option<Minute>,
}

impl Day {
    /// Looks at a day file whole.
    ///
    /// # Errors
    /// Every fault: unknown ids, ids twice, numbers out of range, progress that can not be.
    pub fn checked(file: &DayFile) -> Result<Day, Vec<Fault>> {
        Checker::new(file).day()
    }

    /// Whether the groom is cleared for the horse.
    pub fn cleared(&self, groom: usize, horse: usize) -> bool {
        self.grooms[groom].grade >= self.horses[horse].grade
    }

    /// The id under which a hand stands in files.
    pub fn hand_id(&self, hand: Hand) -> &str {
        hand.groom().map_or(STAFF, |groom| &self.grooms[groom].id)
    }

    /// When a job of an outing ends that a plan begins at `start`: one done, when it was done; one under way, not before
    /// the next minute.
    pub fn end(&self, outing: &Outing, job: Job, start: Minute) -> Minute {
        let expected = start + outing.minutes[job as usize];
        match outing.begun[job as usize] {
            Some(begun) if begun.under_way => expected.max(self.earliest() + 1),
            Some(begun) => begun.span.to,
            None => expected,
        }
    }

    /// The earliest minute at which something may be planned.
    pub(super) fn earliest(&self) -> Minute {
        self.now.unwrap_or(0)
    }
}

/// How staff are named in day and plan files.
pub const STAFF: &str = "staff";

/// A fault in a day file.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Fault {
    /// Where: `rides[3].horse`.
    pub place: String,
    /// What stands there.
    pub value: String,
    /// What is allowed there.
    pub allowed: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} = {}: allowed is {}", self.place, self.value, self.allowed)
    }
}
