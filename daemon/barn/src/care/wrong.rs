//! Somebody said that something is wrong with a horse. One report for each horse: said again with more it is the same one. It
//! stands, over the day's end too, until staff say that it is looked after. It says how pressing it is and never what it is;
//! the vet and the equine professional decide.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::seen::Seen;
use crate::board::Priority;
use crate::done::{Done, NoUndo};
use crate::time::Mono;

/// What was said of one horse.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Report {
    /// Who said it first, and when.
    pub first: Done,
    seen: BTreeSet<Seen>,
    /// True where somebody only called: then it may be anything.
    called: bool,
    /// True where somebody else has said it too.
    others: bool,
}

impl Report {
    /// A report of what was seen; of nothing where somebody only called.
    pub fn new(seen: impl IntoIterator<Item = Seen>, first: Done) -> Self {
        let seen: BTreeSet<Seen> = seen.into_iter().collect();
        Self { first, called: seen.is_empty(), seen, others: false }
    }

    /// The same is said again, with more or without.
    pub fn add(&mut self, seen: impl IntoIterator<Item = Seen>, said: &Done) {
        let seen: BTreeSet<Seen> = seen.into_iter().collect();
        self.called |= seen.is_empty();
        self.seen.extend(seen);
        self.others |= said.by != self.first.by;
    }

    /// What was seen, in the order of [`Seen::ALL`].
    pub fn seen(&self) -> Vec<Seen> {
        Seen::ALL.into_iter().filter(|seen| self.seen.contains(seen)).collect()
    }

    /// True where a sign was seen for which the vet is called now.
    pub fn vet_now(&self) -> bool {
        self.seen.iter().any(|seen| seen.vet_now())
    }

    /// How pressing. Who only calls may have seen anything, and saying more makes nothing less pressing.
    pub fn priority(&self) -> Priority {
        if self.vet_now() || self.called { Priority::High } else { Priority::Medium }
    }

    /// Whether the whole report can be taken back at that time: not where somebody else has said it too.
    ///
    /// # Errors
    /// Why not.
    pub fn undo(&self, at: Mono) -> Result<(), NoUndo> {
        if self.others { Err(NoUndo::SaidAgain) } else { self.first.undo(at) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::care::observed::Sign;
    use crate::done::UNDO_MS;

    const COLIC: Seen = Seen::Vet(Sign::ColicSigns);

    fn by(person: &str, at: u64) -> Done {
        Done { at: Mono(at), by: Some(person.into()) }
    }

    #[test]
    fn what_is_seen_adds_up_and_only_gets_more_pressing() {
        let mut report = Report::new([Seen::Cough], by("ana", 0));
        assert_eq!((report.priority(), report.vet_now()), (Priority::Medium, false));
        report.add([COLIC, Seen::Cough], &by("ana", 1));
        assert_eq!((report.priority(), report.seen()), (Priority::High, vec![COLIC, Seen::Cough]));
        let mut call = Report::new([], by("ana", 0));
        assert_eq!((call.priority(), call.vet_now(), call.seen().len()), (Priority::High, false, 0));
        call.add([Seen::Shoe], &by("ana", 1));
        assert_eq!(call.priority(), Priority::High, "somebody called for help");
    }

    #[test]
    fn who_said_it_may_take_it_back_for_a_while_but_not_for_others() {
        let mut report = Report::new([Seen::Cough], by("ana", 10));
        report.add([Seen::Shoe], &by("ana", 20));
        assert_eq!(report.undo(Mono(30)), Ok(()));
        assert_eq!(report.undo(Mono(10 + UNDO_MS)), Err(NoUndo::TooLate));
        report.add([Seen::Shoe], &by("noe", 25));
        assert_eq!(report.undo(Mono(30)), Err(NoUndo::SaidAgain));
    }
}
