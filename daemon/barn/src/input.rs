//! Everything that can change the barn. An input is a fact: it says what happened, when by its own account, and where it
//! came from. The journal keeps inputs; the barn is what they add up to.

use std::fmt;
use std::sync::Arc;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::book::{Book, WaterPlace};
use crate::care::observed::Observed;
use crate::care::seen::Seen;
use crate::id::{BadgeId, BucketId, ChoreId, HorseId, KioskId, PersonId, PlaceId, ReaderId, RideId, StallId, TouchId};
use crate::limits::Limits;
use crate::pins::PinHash;
use crate::plan::file::PlanFile;
use crate::tell::message::{MessageId, Outcome};
use crate::time::{TimeOfDay, Wall};
use crate::units::{Celsius, Dbm, Millimetres, Percent, RelativeHumidity};

/// One thing that happened.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Input {
    /// The hub has started: how its lines are must be found out anew.
    Started,
    /// The book of the barn was written anew, whole.
    Book(Arc<Book>),
    /// The limits in force were set.
    Limits(Arc<Limits>),
    /// A sensor measured.
    Reading(Reading),
    /// A device said that it is there, or its last will said that it is not.
    Presence(Presence),
    /// A badge was held to a reader.
    Tap(Tap),
    /// Somebody touched a kiosk.
    Touch(Touch),
    /// The line to the broker came up or went down.
    Broker(Line),
    /// The journal could be written again, or could not.
    Journal(Line),
    /// A plan was made of the day that the barn had ordered one for.
    Plan(Arc<NewPlan>),
    /// What became of a message that the barn ordered.
    Sent(Sent),
    /// Somebody followed the link of a message: they take its alarms.
    TakenByLink(TakenByLink),
    /// How much room is left where the hub keeps what happened.
    Disk(Room),
    /// The wall clock was set, or stepped.
    Clock,
    /// Where the wall clock comes from is not what the barn took it for.
    ClockSource(ClockSource),
    /// A person has a new PIN, or none any more.
    Pin(Pin),
    /// Somebody tried a PIN at a kiosk.
    PinTried(PinTried),
    /// Nothing but time passing: a deadline of the barn's was due. It need not be written down: timers fire at the time
    /// they were armed for, whoever notices and when.
    Tick,
}

/// Where the wall clock comes from.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ClockSource {
    /// The system's own clock, set or not.
    #[default]
    System,
    /// Staff set it by hand, as the system's own could not be trusted.
    ByHand,
}

/// A person's PIN.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Pin {
    /// Whose.
    pub person: PersonId,
    /// Its hash; none takes it away.
    pub hash: Option<PinHash>,
}

/// A PIN was tried. Which digits is never told.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct PinTried {
    /// At which kiosk.
    pub kiosk: KioskId,
    /// Whose.
    pub person: PersonId,
    /// Whether it was theirs.
    pub right: bool,
}

/// What became of a message.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Sent {
    /// Which.
    pub message: MessageId,
    /// What became of it.
    pub outcome: Outcome,
}

/// The link of a message was followed. It is answered as a touch is.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct TakenByLink {
    /// Which link: unique for ever; a repeat of it changes nothing.
    pub link: TouchId,
    /// The alarms that the message told, by their numbers.
    pub alarms: Vec<u64>,
    /// To whom the message went.
    pub by: PersonId,
}

/// Room on a disk.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Room {
    /// Bytes that the hub may still write.
    pub free: u64,
    /// Bytes that the disk holds.
    pub of: u64,
}

/// A plan that people are to see.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct NewPlan {
    /// Of which day.
    pub date: NaiveDate,
    /// The plan.
    pub plan: PlanFile,
}

/// Which sensor: what it watches and where it sits. One radio box that measures two things is one sensor.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Sensor {
    /// Watches the water of a stall: the bucket that the stall is written with.
    Water(StallId),
    /// Watches a vessel of its own: a second bucket, a trough.
    Bucket(BucketId),
    /// Watches temperature and humidity of a place.
    Climate(PlaceId),
}

impl fmt::Display for Sensor {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Sensor::Water(stall) => write!(f, "water sensor of stall {stall}"),
            Sensor::Bucket(bucket) => write!(f, "water sensor of {bucket}"),
            Sensor::Climate(place) => write!(f, "climate sensor of {place}"),
        }
    }
}

/// What was measured, in the core's units. The devices shell has converted it.
#[derive(Clone, Copy, PartialEq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Measured {
    /// What a level sensor reads: height of the water or distance to it, by how the book says the sensor looks.
    Level(Millimetres),
    /// Air temperature.
    Temperature(Celsius),
    /// Relative humidity.
    Humidity(RelativeHumidity),
    /// What is left in the sensor's battery.
    Battery(Percent),
    /// How strongly the sensor's radio is heard.
    Signal(Dbm),
}

/// One measurement of one quantity.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Reading {
    /// Who measured.
    pub sensor: Sensor,
    /// What.
    pub measured: Measured,
    /// When, by the sensor's own clock, where it has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub own_time: Option<Wall>,
}

/// A device's word on itself.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Presence {
    /// Which sensor.
    pub sensor: Sensor,
    /// True while it is connected.
    pub online: bool,
}

/// A badge held to a reader.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Tap {
    /// Where.
    pub reader: ReaderId,
    /// Whose.
    pub badge: BadgeId,
    /// When, by the reader's clock, where it has one: a reader that was cut off sends late.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub own_time: Option<Wall>,
}

/// A touch at a kiosk.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Touch {
    /// Unique for ever; a repeat of it changes nothing.
    pub id: TouchId,
    /// Where.
    pub kiosk: KioskId,
    /// How many milliseconds the kiosk kept it before this was sent, because the hub was silent: the touch was so long ago.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub held_ms: u64,
    /// Who touched, where the kiosk knows: they tapped in or chose their name, and nobody else has touched since.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<PersonId>,
    /// Who acts as staff: the hub has seen their PIN. Never a kiosk's own word.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub staff: Option<PersonId>,
    /// What was asked for.
    pub action: Action,
}

fn is_zero(held_ms: &u64) -> bool {
    *held_ms == 0
}

/// What a touch asks for.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Action {
    /// I am here.
    SignIn(PersonId),
    /// I am going.
    SignOut(PersonId),
    /// I have seen this alarm.
    Acknowledge {
        /// The alarm's number.
        alarm: u64,
        /// Who saw it.
        by: PersonId,
    },
    /// A step of the work on a ride's horse was begun, done, or not done after all.
    Work(Said),
    /// A horse does no more work today, or after all it does. Staff and the equine professional decide.
    Scratch {
        /// Which horse.
        horse: HorseId,
        /// True: no more work today. False: it works after all.
        out: bool,
        /// Who decided.
        by: PersonId,
    },
    /// A horse goes a ride of today in place of its own, which does no more work; or none does after all. The equine professional
    /// or the manager.
    StandIn {
        /// Which ride.
        ride: RideId,
        /// Who goes; none: nobody.
        horse: Option<HorseId>,
    },
    /// Somebody measured and saw how a horse is.
    Vitals(Vitals),
    /// A badge was held to the kiosk's own reader.
    Badge(BadgeId),
    /// The water of a place was filled, or was not after all.
    Filled {
        /// Where.
        place: WaterPlace,
        /// True takes it back.
        #[serde(default)]
        undo: bool,
    },
    /// A stall was cleaned, or was not after all.
    Cleaned {
        /// Which.
        stall: StallId,
        /// True takes it back.
        #[serde(default)]
        undo: bool,
    },
    /// A chore was done, or was not after all.
    Chore {
        /// Which.
        chore: ChoreId,
        /// True takes it back.
        #[serde(default)]
        undo: bool,
    },
    /// May this horse have hay? Or: nobody asks after all.
    AskHay {
        /// Which.
        horse: HorseId,
        /// True takes it back.
        #[serde(default)]
        undo: bool,
    },
    /// It may have hay, or not. Staff.
    AnswerHay {
        /// The question's number.
        ask: u64,
        /// True: it may.
        allowed: bool,
    },
    /// Something is wrong with this horse. Said again with more, it is one report.
    Wrong {
        /// Which.
        horse: HorseId,
        /// What was seen; nothing where somebody is only called.
        #[serde(default)]
        seen: Vec<Seen>,
        /// True takes the whole report back.
        #[serde(default)]
        undo: bool,
    },
    /// What was wrong with this horse is looked after: the report is closed. Staff.
    WrongOver {
        /// Which.
        horse: HorseId,
    },
    /// An alarm is put aside for a while. Staff.
    PutAside {
        /// The alarm's number.
        alarm: u64,
        /// For how many minutes, at most [`MOST_ASIDE_MIN`].
        for_min: u32,
        /// Why.
        why: WhyAside,
    },
    /// An alarm that was put aside is taken up again before its time. Staff.
    TakeUp {
        /// The alarm's number.
        alarm: u64,
    },
    /// The clock says this local time. Staff; only where the hub's own clock is not to be trusted.
    SetClock {
        /// Local date.
        date: NaiveDate,
        /// Local time.
        time: TimeOfDay,
    },
}

/// The longest that an alarm can be put aside: eight hours.
pub const MOST_ASIDE_MIN: u32 = 480;

/// Why an alarm is put aside.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WhyAside {
    /// Somebody is at it.
    BeingSeenTo,
    /// It waits for a part, for somebody from outside, for the evening.
    Waits,
    /// It was looked at and is not so.
    NotSo,
}

/// What somebody measured and saw of a horse.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Vitals {
    /// Of which horse.
    pub horse: HorseId,
    /// Who did.
    pub by: PersonId,
    /// How many minutes after its work, where they said; else it is taken from what was said of its rides.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub after_work_min: Option<u32>,
    /// What.
    #[serde(flatten)]
    pub seen: Observed,
}

/// What somebody said of their work.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Said {
    /// Which ride.
    pub ride: RideId,
    /// Which horse: must be the ride's.
    pub horse: HorseId,
    /// Which step.
    pub step: Step,
    /// How far.
    pub mark: Mark,
    /// By whom, where somebody said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<PersonId>,
}

/// The steps of a horse's work for a ride, in their order.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Step {
    /// Groom the horse and look it over.
    Brush,
    /// Put its tack on.
    Tack,
    /// The horse leader took it out to the lesson.
    LeadOut,
    /// The horse leader brought it back.
    BringBack,
    /// Untack it, disinfect and hang the girth, brush it, back to its stall.
    PutAway,
}

impl Step {
    /// All of them, in their order.
    pub const ALL: [Step; 5] = [Step::Brush, Step::Tack, Step::LeadOut, Step::BringBack, Step::PutAway];
}

/// How far a step is.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mark {
    /// Not begun; also the way back from a wrong touch.
    Open,
    /// Somebody is at it.
    Begun,
    /// Done.
    Done,
}

/// A line that is up or down.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Line {
    /// It works.
    Up,
    /// It does not, and why, in the words of whoever noticed.
    Down(String),
}
