//! What people do besides readying horses, as a screen shows it: chores, stalls, hay, something that is wrong, taps.

use serde::{Deserialize, Serialize};

use crate::board::Job;
use crate::care::seen::Seen;
use crate::id::{ChoreId, HorseId, PersonId, ReaderId, StallId};
use crate::language::Text;
use crate::time::TimeOfDay;

/// Something was done, by whom and when.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct DoneView {
    /// What the aisle calls who did it, where they said.
    pub by: Option<String>,
    /// At what local time; midnight where no clock is set.
    pub at: TimeOfDay,
    /// True while it can be taken back: five minutes.
    pub can_undo: bool,
}

/// A chore of today.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct ChoreView {
    /// Which.
    pub id: ChoreId,
    /// What is to be done.
    pub name: Text,
    /// Where.
    pub place: String,
    /// The same in Spanish; empty where nobody has written it.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub place_spanish: String,
    /// By when.
    pub by: TimeOfDay,
    /// Whose turn it is, by rotation over who is expected or here; none where nobody is.
    pub turn: Option<TurnView>,
    /// Who has done it; none while nobody has.
    pub done: Option<DoneView>,
    /// True where its time is over and nobody has done it.
    pub late: bool,
}

/// Whose turn it is.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct TurnView {
    /// Their id.
    pub id: PersonId,
    /// What the aisle calls them.
    pub name: String,
}

/// A question of today whether a horse may have hay. Nobody feeds before staff have said yes.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct HayView {
    /// The question's number, to answer it by.
    pub ask: u64,
    /// Which horse.
    pub horse: HorseId,
    /// Its barn name.
    pub name: String,
    /// Where it stands.
    pub stall: StallId,
    /// What the aisle calls who asks, where they said.
    pub by: Option<String>,
    /// How many whole minutes ago.
    pub ago_min: u32,
    /// True while the question can be taken back: five minutes, and not answered.
    pub can_undo: bool,
    /// What staff said; none while nobody has.
    pub answer: Option<HayAnswerView>,
}

/// What staff said to a question for hay.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct HayAnswerView {
    /// True: it may have hay.
    pub allowed: bool,
    /// What the aisle calls who answered.
    pub by: String,
    /// How many whole minutes ago.
    pub ago_min: u32,
}

/// Somebody said that something is wrong with a horse. It stands until staff say that it is not any more.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct WrongView {
    /// What was seen, in the order of [`Seen::ALL`]; nothing where they only called for somebody.
    pub seen: Vec<Seen>,
    /// What the aisle calls who said it, where they said.
    pub by: Option<String>,
    /// How many whole minutes ago it was first said.
    pub ago_min: u32,
    /// True where one of it is a sign for which the vet is called now.
    pub vet_now: bool,
    /// What the aisle calls who of the staff has seen it.
    pub taken_by: Option<String>,
    /// True while it can be taken back: five minutes.
    pub can_undo: bool,
}

/// A badge that was held to a reader, and whose it is.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct TapView {
    /// Where. A reader that types into a kiosk has the kiosk's name.
    pub reader: ReaderId,
    /// Whose.
    pub person: PersonId,
    /// True: it signed them in. False: out.
    pub here: bool,
    /// How many whole seconds ago.
    pub ago_s: u32,
}

/// One step of a job, in the barn's own words.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct StepView {
    /// Of which job.
    pub job: Job,
    /// What to do.
    pub text: Text,
    /// True where it keeps horse or person from harm: it is shown as such.
    pub caution: bool,
}
