//! Why an outing is missed, or staff are called: as values that a screen says in its reader's language and hours, and in English.
//!
//! The reasons are those that a person could check by walking down the aisle: which gear is on which horse until when, which horse is
//! not back or away, who is cleared, on shift, away, or busy with whom.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::day::Job;
use crate::time::TimeOfDay;

/// Why grooms alone do not do all of an outing.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Why {
    /// It is missed.
    Missed(Missed),
    /// Staff are called, to one job or more.
    Staff(Vec<Call>),
}

impl Why {
    /// Why staff are called to this job.
    pub fn call(&self, job: Job) -> Option<&Call> {
        match self {
            Why::Missed(_) => None,
            Why::Staff(calls) => calls.iter().find(|call| call.job == job),
        }
    }
}

/// An outing that can not be had.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Missed {
    /// What people call its horse.
    pub horse: String,
    /// When it must be tacked at the latest.
    pub by: TimeOfDay,
    /// What is in the way.
    pub because: Hindrance,
}

/// What is in the way of an outing.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Hindrance {
    /// There is no time left to brush and tack it.
    TooLate {
        /// What time it is.
        now: TimeOfDay,
    },
    /// The horse is away.
    Away {
        /// From when.
        from: TimeOfDay,
        /// Until when.
        to: TimeOfDay,
    },
    /// A piece of its tack is on another horse.
    TackOn {
        /// What people call the piece.
        piece: String,
        /// On which horse.
        horse: String,
        /// Until when.
        until: TimeOfDay,
        /// When its girth is dry.
        dry: TimeOfDay,
    },
    /// The horse is not put away after another ride.
    NotPutAway {
        /// Until when.
        until: TimeOfDay,
    },
    /// A piece of its tack has to be on another horse before this one is back.
    TackNeeded {
        /// What people call the piece.
        piece: String,
        /// On which horse.
        horse: String,
        /// From when.
        from: TimeOfDay,
    },
    /// The horse has to be brushed for another ride before it is put away.
    BrushedAgain {
        /// From when.
        from: TimeOfDay,
    },
    /// Nobody has the time.
    TooFewHands(Hands),
}

/// A job that staff are called to.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Call {
    /// Which job.
    pub job: Job,
    /// What people call its horse.
    pub horse: String,
    /// When it begins.
    pub at: TimeOfDay,
    /// Why no groom does it.
    pub because: Hands,
}

/// What keeps every groom from a job.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Hands {
    /// There are no grooms today.
    NoGrooms,
    /// No groom is cleared for a horse of this grade.
    NobodyCleared {
        /// How hard the horse is to handle.
        grade: i64,
    },
    /// Nobody who is cleared has come yet.
    NobodyBefore {
        /// How hard the horse is to handle.
        grade: i64,
        /// When the first of them comes.
        time: TimeOfDay,
    },
    /// Everybody who is cleared has gone.
    NobodyAfter {
        /// How hard the horse is to handle.
        grade: i64,
        /// When the last of them goes.
        time: TimeOfDay,
    },
    /// Everybody who is cleared and there does something else.
    Busy(Vec<Busy>),
}

/// What keeps one groom from a job.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Busy {
    /// What people call the groom.
    pub name: String,
    /// What it is.
    pub with: Keeps,
}

/// What a groom does instead.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Keeps {
    /// The groom is away.
    Away {
        /// Until when.
        until: TimeOfDay,
    },
    /// The groom works on another horse.
    Horse {
        /// What people call it.
        name: String,
        /// Until when.
        until: TimeOfDay,
    },
    /// Nothing, but what is left between two jobs is too short.
    NoTimeThatFits,
}

impl fmt::Display for Why {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Why::Missed(missed) => missed.fmt(f),
            Why::Staff(calls) => list(f, calls, "; "),
        }
    }
}

impl fmt::Display for Missed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Missed { horse: name, by, because } = self;
        let must = format_args!("{name} must be tacked by {by}");
        match because {
            Hindrance::TooLate { now } => write!(f, "it is {now}, too late: {must}"),
            Hindrance::Away { from, to } => write!(f, "{name} is away from {from} to {to}, and {must}"),
            Hindrance::TackOn { piece, horse, until, dry } => {
                write!(f, "{piece} is on {horse} until {until} and dry at {dry}, and {must}")
            }
            Hindrance::NotPutAway { until } => write!(f, "{name} is not put away before {until}, and {must}"),
            Hindrance::TackNeeded { piece, horse, from } => {
                write!(f, "{piece} is needed on {horse} from {from}, before {name} is back")
            }
            Hindrance::BrushedAgain { from } => {
                write!(f, "{name} must be brushed for another ride from {from}, before it is put away")
            }
            Hindrance::TooFewHands(hands) => write!(f, "too few hands: {hands}; {must}"),
        }
    }
}

impl fmt::Display for Call {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Call { job, horse, at, because } = self;
        let job = match job {
            Job::Brush => "brush",
            Job::Tack => "tack up",
            Job::PutAway => "put away",
        };
        write!(f, "staff {job} {horse} at {at}: {because}")
    }
}

impl fmt::Display for Hands {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Hands::NoGrooms => f.write_str("there are no grooms today"),
            Hands::NobodyCleared { grade } => write!(f, "no groom is cleared for grade {grade}"),
            Hands::NobodyBefore { grade, time } => {
                write!(f, "no groom cleared for grade {grade} is on shift before {time}")
            }
            Hands::NobodyAfter { grade, time } => {
                write!(f, "no groom cleared for grade {grade} is on shift after {time}")
            }
            Hands::Busy(grooms) => list(f, grooms, ", "),
        }
    }
}

impl fmt::Display for Busy {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Busy { name, with } = self;
        match with {
            Keeps::Away { until } => write!(f, "{name} is away until {until}"),
            Keeps::Horse { name: horse, until } => write!(f, "{name} is with {horse} until {until}"),
            Keeps::NoTimeThatFits => write!(f, "{name} has no time that fits"),
        }
    }
}

fn list(f: &mut fmt::Formatter<'_>, items: &[impl fmt::Display], between: &str) -> fmt::Result {
    for (i, item) in items.iter().enumerate() {
        if i > 0 {
            f.write_str(between)?;
        }
        item.fmt(f)?;
    }
    Ok(())
}
