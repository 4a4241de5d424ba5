//! A row of the alarms' history: what became of one alarm, from its raising to its end. Every alarm that is raised has one,
//! and it is written anew whenever something about it changes.

use serde::{Deserialize, Serialize};

use super::{Alarm, Cause};
use crate::id::PersonId;
use crate::input::WhyAside;
use crate::time::Now;

/// What became of one alarm.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Record {
    /// The alarm as it was last: its number, priority, what, and when it was raised.
    pub alarm: Alarm,
    /// What it is for.
    pub cause: Cause,
    /// What it says, in English, whole.
    pub text: String,
    /// Who has seen it first, and when.
    #[serde(default)]
    pub seen: Option<(PersonId, Now)>,
    /// Each time that it was put aside.
    #[serde(default)]
    pub aside: Vec<PutAside>,
    /// Who has been told by a message that a receiver took, and when, in order.
    #[serde(default)]
    pub told: Vec<(PersonId, Now)>,
    /// True where it came and went so often that nothing more was said of it.
    #[serde(default)]
    pub chattered: bool,
    /// When its cause was gone, and how; none while it stands.
    #[serde(default)]
    pub ended: Option<(Now, HowEnded)>,
}

/// An alarm was put aside.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct PutAside {
    /// By whom.
    pub by: PersonId,
    /// When.
    pub at: Now,
    /// For how many minutes.
    pub for_min: u32,
    /// Why.
    pub why: WhyAside,
}

/// How an alarm ended.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum HowEnded {
    /// Its cause was gone.
    Gone,
    /// Another alarm took it in, as it follows from the same root: that one's cause.
    Covered(Cause),
    /// It was taken out of service.
    OutOfService,
}
