//! A message: everything that whoever carries it must know, so that there is nothing left to decide or to look up.

use std::fmt;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::alarm::Alarm;
use crate::board::Priority;
use crate::id::PersonId;
use crate::input::{Sensor, WhyAside};
use crate::time::{Now, TimeOfDay};
use crate::units::Percent;

/// A message's number: never used again by one barn's journal. A barn that begins a new journal begins again at 1.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct MessageId(pub u64);

impl fmt::Display for MessageId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

/// One message to one receiver.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Message {
    /// Its number.
    pub id: MessageId,
    /// To whom.
    pub to: To,
    /// Why it is sent.
    pub about: About,
    /// How pressing: that of its most pressing alarm.
    pub priority: Priority,
    /// The alarms that it tells, most pressing first. Empty in a digest and a test, which carry their own.
    pub alarms: Vec<Told>,
    /// When it was made.
    pub made: Now,
}

/// To whom.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum To {
    /// To a person, who can be reached.
    Person(PersonId),
    /// To every machine that listens.
    Everyone,
}

/// Why a message is sent.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum About {
    /// An alarm was raised.
    Raised,
    /// An alarm that stands got worse, or came back after it was put aside.
    Worse,
    /// Nobody has taken an alarm that others were told of.
    Climbed {
        /// For how many whole minutes nobody has.
        untaken_min: u32,
    },
    /// Somebody has taken an alarm, or put it aside: one line, to those who were told of it.
    Taken,
    /// An alarm is over: one line, to those who were told of it.
    Ended,
    /// An alarm comes and goes; nothing more is said of it until it keeps still.
    Chattering {
        /// How often it came within the hour.
        times: u32,
    },
    /// Several at once: one summary.
    Many {
        /// How many alarms were raised in the last ten minutes, told here or not.
        raised: u32,
    },
    /// What was, each morning.
    Digest(Box<Digest>),
    /// A test, asked for by hand.
    Test,
}

/// An alarm as a message tells it. Texts are whole and in English; a shell lays them out and adds none of its own.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Told {
    /// The alarm: its number, priority, what as data, and since when it stands.
    pub alarm: Alarm,
    /// What, in a few words: "bucket empty and not refilled".
    pub what: String,
    /// Where, and whose: "stall 3, Pepper". Empty where it is the hub's.
    pub place: String,
    /// What to do, a sentence or two. Defers to the equine professional, the vet or local practice where those decide.
    pub to_do: String,
    /// Since when, local date and time; none while the clock is not set.
    pub since: Option<(NaiveDate, TimeOfDay)>,
    /// Who has been told before, in order.
    pub told: Vec<ToldWho>,
    /// What the aisle calls who took it; none while nobody has.
    pub taken_by: Option<String>,
    /// Until when it is put aside, and why; none while it is not.
    pub aside: Option<(TimeOfDay, WhyAside)>,
    /// True where it is over.
    pub over: bool,
}

/// Somebody who has been told.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct ToldWho {
    /// Who.
    pub person: PersonId,
    /// What the aisle calls them.
    pub name: String,
    /// When, local time; none while the clock was not set.
    pub at: Option<TimeOfDay>,
}

/// The morning's digest.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Digest {
    /// The local day on which it is sent.
    pub date: NaiveDate,
    /// True once a week: it is sent even where there is nothing to say, so that silence means fine and not broken.
    pub heartbeat: bool,
    /// Over how many whole hours it looks back.
    pub hours: u32,
    /// What stands now, most pressing first.
    pub standing: Vec<Told>,
    /// What came more than once, most often first: what and where, and how often.
    pub often: Vec<(String, u32)>,
    /// High and medium alarms that nobody took: what and where.
    pub untaken: Vec<String>,
    /// What could wait for this: low alarms that were raised, what and where, once each.
    pub low: Vec<String>,
    /// Sensors whose battery should be changed soon, emptiest first.
    pub batteries: Vec<(Sensor, Percent)>,
    /// What is out of service, so that nobody forgets it.
    pub out_of_service: Vec<String>,
    /// The barn's own alarm rate.
    pub rate: Rate,
    /// The rules that talk most, at most three.
    pub talkers: Vec<Talker>,
}

/// How many alarms there were, to be laid beside what is published for a full-time console operator. A manager who does other
/// work should see far fewer.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Rate {
    /// Raised in the digest's hours.
    pub raised: u32,
    /// Of these: high, medium, low.
    pub by_priority: [u32; 3],
    /// The most in any ten minutes.
    pub most_in_ten_min: u32,
    /// How many stood for more than a day.
    pub stale: u32,
    /// How many causes came and went.
    pub chattering: u32,
    /// Messages to persons, digests left out.
    pub messages: u32,
    /// The published targets beside which these belong, a line each, with their standing.
    pub targets: Vec<String>,
}

/// A rule that talks much.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Talker {
    /// What it is about: "water is low".
    pub rule: String,
    /// How often it was raised.
    pub times: u32,
    /// What to look at and which limit to change, by its name in the settings.
    pub change: String,
}

/// What became of a message.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// A receiver has taken it: the person counts as told.
    Accepted,
    /// It will not arrive, or has not for so long that others must be told: why, in the words of whoever noticed.
    Failed(String),
    /// It was out of date before it could be sent, and was summed up.
    Outdated,
}
