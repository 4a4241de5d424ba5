//! What somebody said that they did: who, when, and for how long it can be taken back. Used for stalls, buckets and chores;
//! knows none of them.
//!
//! The times are those of the touches, not of their arrival: a kiosk that was cut off sends both the word and its taking back
//! late, and they count as they were meant.

use std::collections::BTreeMap;
use std::fmt;

use serde::{Deserialize, Serialize};

use crate::id::PersonId;
use crate::refusal::{Because, Refusal};
use crate::time::Mono;

/// What was touched can be taken back for so long: five minutes, chosen for this project.
pub const UNDO_MS: u64 = 5 * 60_000;
/// So many words on one thing are kept: more than are said of a stall or a bucket in a day.
const KEPT: usize = 16;

/// Something was done.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Done {
    /// When.
    pub at: Mono,
    /// By whom, where they said.
    pub by: Option<PersonId>,
}

impl Done {
    /// From when on it can not be taken back.
    pub fn undo_ends(&self) -> Mono {
        self.at.plus(UNDO_MS)
    }

    /// Whether it can be taken back at that time.
    ///
    /// # Errors
    /// Why not.
    pub fn undo(&self, at: Mono) -> Result<(), NoUndo> {
        if at < self.at {
            Err(NoUndo::SaidAgain)
        } else if at >= self.undo_ends() {
            Err(NoUndo::TooLate)
        } else {
            Ok(())
        }
    }
}

/// Why something can not be taken back.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum NoUndo {
    /// Nobody has said it.
    Nothing,
    /// It was said again after that.
    SaidAgain,
    /// It was too long ago.
    TooLate,
}

impl From<NoUndo> for Refusal {
    fn from(why: NoUndo) -> Self {
        let because = match why {
            NoUndo::Nothing => Because::NotSaid,
            NoUndo::SaidAgain => Because::SaidAgain,
            NoUndo::TooLate => Because::TooLate,
        };
        because.says(why.to_string())
    }
}

impl fmt::Display for NoUndo {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            NoUndo::Nothing => "nobody has said so: there is nothing to take back",
            NoUndo::SaidAgain => "it was said again since: there is nothing of that touch to take back",
            NoUndo::TooLate => "it was said more than five minutes ago and can not be taken back any more",
        })
    }
}

/// What was said of many things, each in order of time.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(bound(serialize = "K: Serialize", deserialize = "K: Deserialize<'de> + Ord"))]
pub struct Marks<K> {
    #[serde(with = "crate::pairs")]
    of: BTreeMap<K, Vec<Done>>,
}

impl<K> Default for Marks<K> {
    fn default() -> Self {
        Self { of: BTreeMap::new() }
    }
}

impl<K: Ord> Marks<K> {
    /// Somebody said that it is done.
    pub fn say(&mut self, what: K, done: Done) {
        let all = self.of.entry(what).or_default();
        let place = all.partition_point(|other| other.at <= done.at);
        all.insert(place, done);
        if all.len() > KEPT {
            all.remove(0);
        }
    }

    /// Takes back what was said last. What was said before that stands again.
    ///
    /// # Errors
    /// Why it can not be taken back.
    pub fn take_back(&mut self, what: &K, at: Mono) -> Result<(), NoUndo> {
        let all = self.of.get_mut(what).ok_or(NoUndo::Nothing)?;
        all.last().ok_or(NoUndo::Nothing)?.undo(at)?;
        all.pop();
        if all.is_empty() {
            self.of.remove(what);
        }
        Ok(())
    }

    /// What was said last.
    pub fn last(&self, what: &K) -> Option<&Done> {
        self.of.get(what)?.last()
    }

    /// When each of the last words can not be taken back any more.
    pub fn undo_ends(&self) -> impl Iterator<Item = Mono> {
        self.of.values().filter_map(|all| all.last()).map(Done::undo_ends)
    }

    /// Forgets what is not wanted any more.
    pub fn retain(&mut self, mut wanted: impl FnMut(&K, &Done) -> bool) {
        self.of.retain(|what, all| {
            all.retain(|done| wanted(what, done));
            !all.is_empty()
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn done(at: u64) -> Done {
        Done { at: Mono(at), by: None }
    }

    #[test]
    fn the_last_word_can_be_taken_back_for_five_minutes_and_the_one_before_it_stands_again() {
        let mut marks = Marks::default();
        assert_eq!(marks.take_back(&1, Mono(0)), Err(NoUndo::Nothing));
        marks.say(1, done(1_000));
        marks.say(1, done(400_000));
        assert_eq!(marks.take_back(&1, Mono(399_999)), Err(NoUndo::SaidAgain));
        assert_eq!(marks.take_back(&1, Mono(400_000 + UNDO_MS)), Err(NoUndo::TooLate));
        assert_eq!(marks.take_back(&1, Mono(400_000 + UNDO_MS - 1)), Ok(()));
        assert_eq!(marks.last(&1), Some(&done(1_000)));
        assert_eq!(marks.take_back(&1, Mono(1_000 + UNDO_MS)), Err(NoUndo::TooLate));
        assert_eq!(marks.take_back(&1, Mono(2_000)), Ok(()));
        assert_eq!(marks.last(&1), None);
    }

    #[test]
    fn a_word_that_comes_late_takes_its_place_and_not_too_many_are_kept() {
        let mut marks = Marks::default();
        marks.say("1", done(9));
        marks.say("1", done(5));
        assert_eq!(marks.last(&"1"), Some(&done(9)));
        for at in 10..100 {
            marks.say("1", done(at));
        }
        assert_eq!((marks.of[&"1"].len(), marks.last(&"1")), (KEPT, Some(&done(99))));
    }
}
