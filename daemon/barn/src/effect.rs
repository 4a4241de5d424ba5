//! What the barn orders. Effects are complete: the shell that carries one out has nothing left to decide.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::alarm::Alarm;
use crate::alarm::record::Record;
use crate::id::TouchId;
use crate::plan::file::{DayFile, PlanFile};
use crate::refusal::Refusal;
use crate::tell::message::Message;
use crate::time::Wall;

/// One order.
#[derive(Clone, PartialEq, Debug, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Effect {
    /// An alarm was raised, or one that stands got worse or came back after it was put aside: say so.
    Raise(Alarm),
    /// An alarm's cause is gone: say so.
    End(Alarm),
    /// Carry this message, at least once. It may be ordered again after a restart, whole and under the same number: once is
    /// enough.
    Tell(Box<Message>),
    /// Keep this row of the alarms' history with what caused it, in place of an older one of the same number.
    Keep(Box<Record>),
    /// Answer the kiosk's touch, or who followed a link, once it is kept.
    Answer {
        /// Which touch, or which link.
        touch: TouchId,
        /// What to answer.
        answer: Answer,
    },
    /// What came can not be right; it changed nothing. Show it to whoever looks after the sensors.
    Refuse {
        /// From whom: a sensor, a reader, a kiosk.
        from: String,
        /// What, and what is allowed.
        why: String,
    },
    /// Plan this day, and hand in the plan as an input where it is worth showing.
    Plan(Box<Order>),
    /// Have the wall clock say this, until the system's own can be believed.
    SetClock(Wall),
    /// Something that a screen shows has changed.
    Redraw,
}

/// An order for a plan.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Order {
    /// Of which day.
    pub date: NaiveDate,
    /// The day as it is known now.
    pub day: DayFile,
    /// The plan that people see, where there is one: it is kept where a new one is not better by `calm`.
    pub shown: Option<PlanFile>,
    /// By how much a new plan must cost less. See [`PlanLimits`](crate::limits::PlanLimits::calm).
    pub calm: i64,
}

/// What a kiosk is told of its touch.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "answer")]
pub enum Answer {
    /// Done, or done before.
    Done,
    /// Not done, and why.
    Refused(Refusal),
}
