//! Why something was not done that a person asked for: in words for a log and for programs, and as a value that a screen says
//! in the language of who touched.

use std::fmt;

use serde::de::IntoDeserializer;
use serde::de::value::StrDeserializer;
use serde::{Deserialize, Deserializer, Serialize};

/// Why something was not done.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Refusal {
    /// In English, with all that is known: which value, what is allowed.
    pub why: String,
    /// The same as a value. [`Because::Other`] where the reader does not know it, or it is older than these.
    #[serde(default, deserialize_with = "known_or_other")]
    pub because: Because,
}

/// Reasons that a touch of a kiosk can meet.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Because {
    /// None of these: the words say it.
    #[default]
    Other,
    /// The book has no such person, horse, stall, chore or ride any more.
    NotInBook,
    /// It was on another day, which is closed.
    DayClosed,
    /// Nobody knows what day it is.
    ClockUnset,
    /// The alarm is over.
    AlarmOver,
    /// The alarm is not put aside.
    NotPutAside,
    /// Nobody has said what is to be taken back.
    NotSaid,
    /// It was said again since.
    SaidAgain,
    /// It was said too long ago to be taken back.
    TooLate,
    /// Nothing is said to be wrong with the horse.
    NothingWrong,
    /// Nobody asks for hay any more.
    NobodyAsks,
    /// Only staff may, by badge and PIN.
    StaffOnly,
    /// Staff mode has ended.
    StaffEnded,
    /// The chore is none of today.
    NotToday,
    /// The ride is on another horse now.
    OtherHorse,
    /// The ride has its horse, or has begun: nobody goes in its place.
    NotOpen,
    /// Something speaks against the horse for that ride.
    DoesNotFit,
    /// The work on the horse that goes instead has begun.
    OtherBegun,
    /// The hub's own clock is right.
    ClockIsRight,
    /// A value is out of what is allowed.
    OutOfRange,
    /// Nothing was measured or seen.
    NothingSeen,
    /// That is not the PIN.
    WrongPin,
    /// Too many wrong PINs.
    TooManyPins,
    /// This person has no PIN yet.
    NoPin,
    /// Nobody knows the badge.
    UnknownBadge,
    /// The day can not be planned as it is written.
    NoPlan,
    /// The hub does not answer.
    NoAnswer,
}

impl Because {
    /// All of them.
    pub const ALL: [Because; 27] = [
        Because::Other,
        Because::NotInBook,
        Because::DayClosed,
        Because::ClockUnset,
        Because::AlarmOver,
        Because::NotPutAside,
        Because::NotSaid,
        Because::SaidAgain,
        Because::TooLate,
        Because::NothingWrong,
        Because::NobodyAsks,
        Because::StaffOnly,
        Because::StaffEnded,
        Because::NotToday,
        Because::OtherHorse,
        Because::NotOpen,
        Because::DoesNotFit,
        Because::OtherBegun,
        Because::ClockIsRight,
        Because::OutOfRange,
        Because::NothingSeen,
        Because::WrongPin,
        Because::TooManyPins,
        Because::NoPin,
        Because::UnknownBadge,
        Because::NoPlan,
        Because::NoAnswer,
    ];

    /// A refusal for this reason, in these words.
    pub fn says(self, why: impl Into<String>) -> Refusal {
        Refusal { why: why.into(), because: self }
    }
}

impl Refusal {
    /// The book has no such thing: "the book has no stall 7".
    pub(crate) fn not_in_book(what: &str, id: impl fmt::Display) -> Self {
        Because::NotInBook.says(format!("the book has no {what} {id}"))
    }
}

impl From<String> for Refusal {
    fn from(why: String) -> Self {
        Because::Other.says(why)
    }
}

impl From<&str> for Refusal {
    fn from(why: &str) -> Self {
        Because::Other.says(why)
    }
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.why)
    }
}

impl std::error::Error for Refusal {}

/// A reason that a later hub has and this reader does not know is some other.
fn known_or_other<'de, D: Deserializer<'de>>(from: D) -> Result<Because, D::Error> {
    let word = String::deserialize(from)?;
    let word: StrDeserializer<'_, serde::de::value::Error> = word.as_str().into_deserializer();
    Ok(Because::deserialize(word).unwrap_or_default())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::effect::Answer;

    #[test]
    fn what_older_and_later_hubs_say_is_read() {
        for (text, because) in [
            (r#"{"answer":"refused","why":"it rains"}"#, Because::Other),
            (r#"{"answer":"refused","why":"it rains","because":"it_rains"}"#, Because::Other),
            (r#"{"answer":"refused","why":"it rains","because":"too_late"}"#, Because::TooLate),
        ] {
            let answer: Answer = serde_json::from_str(text).expect("an answer");
            assert_eq!(answer, Answer::Refused(because.says("it rains")), "{text}");
        }
        let written = serde_json::to_string(&Answer::Refused(Because::DayClosed.says("closed"))).expect("JSON");
        assert_eq!(written, r#"{"answer":"refused","why":"closed","because":"day_closed"}"#);
        assert_eq!(serde_json::to_string(&Answer::Done).expect("JSON"), r#"{"answer":"done"}"#);
    }

    #[test]
    fn all_are_listed() {
        assert!(Because::ALL.is_sorted_by(|a, b| a < b), "each once, in order");
        assert_eq!(Because::ALL.last(), Some(&Because::NoAnswer), "the last one too");
        assert_eq!(Because::ALL.len(), Because::NoAnswer as usize + 1);
    }
}
