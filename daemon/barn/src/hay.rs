//! May this horse have hay? Anybody asks, staff answer, and nobody feeds before they have. Silence is no answer: a question
//! that nobody answers becomes an alarm, and nothing is ever allowed by itself. Knows horses and people by their ids alone;
//! who may answer is for the barn to say.
//!
//! ```text
//!           asked                       staff answer, and may answer again
//!  nothing ───────▶ open ────────────────────────────────────▶ answered
//!     ▲              │  taken back within five minutes              │
//!     ├──────────────┘                                              │
//!     └───────────────────────── the day ends ──────────────────────┘
//! ```

use serde::{Deserialize, Serialize};

use crate::done::{Done, NoUndo};
use crate::id::{HorseId, PersonId};
use crate::time::Mono;

/// So many questions of a day are kept; the oldest that are answered go first.
const KEPT: usize = 100;

/// A question.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Ask {
    /// Its number, never used again.
    pub number: u64,
    /// For which horse.
    pub horse: HorseId,
    /// Who asks, and when.
    pub asked: Done,
    /// What staff said.
    pub answer: Option<Answer>,
}

/// What staff said.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Answer {
    /// True: it may have hay.
    pub allowed: bool,
    /// Who answered.
    pub by: PersonId,
    /// When.
    pub at: Mono,
}

/// The questions of a day, in the order in which they were asked.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Questions {
    last: u64,
    asks: Vec<Ask>,
}

impl Questions {
    /// Somebody asks. Where the same is asked already, that question stands. Gives the question's number.
    pub fn ask(&mut self, horse: &HorseId, asked: Done) -> u64 {
        if let Some(open) = self.open().find(|ask| ask.horse == *horse) {
            return open.number;
        }
        if self.asks.len() >= KEPT
            && let Some(oldest) = self.asks.iter().position(|ask| ask.answer.is_some())
        {
            self.asks.remove(oldest);
        }
        self.last += 1;
        self.asks.push(Ask { number: self.last, horse: horse.clone(), asked, answer: None });
        self.last
    }

    /// Nobody asks after all. Gives the number of the question that is gone.
    ///
    /// # Errors
    /// Why it can not be taken back.
    pub fn take_back(&mut self, horse: &HorseId, at: Mono) -> Result<u64, NoUndo> {
        let open = self.asks.iter().position(|ask| ask.horse == *horse && ask.answer.is_none());
        let open = open.ok_or(NoUndo::Nothing)?;
        self.asks[open].asked.undo(at)?;
        Ok(self.asks.remove(open).number)
    }

    /// Staff answer; a later answer counts instead of the one before. False where no such question was asked today.
    pub fn answer(&mut self, number: u64, answer: Answer) -> bool {
        let Some(ask) = self.asks.iter_mut().find(|ask| ask.number == number) else { return false };
        if ask.answer.as_ref().is_none_or(|before| before.at <= answer.at) {
            ask.answer = Some(answer);
        }
        true
    }

    /// Those that nobody has answered.
    pub fn open(&self) -> impl Iterator<Item = &Ask> {
        self.asks.iter().filter(|ask| ask.answer.is_none())
    }

    /// All of them, as they were asked.
    pub fn all(&self) -> impl DoubleEndedIterator<Item = &Ask> {
        self.asks.iter()
    }

    /// Forgets those that are not wanted any more.
    pub fn retain(&mut self, wanted: impl FnMut(&Ask) -> bool) {
        self.asks.retain(wanted);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::done::UNDO_MS;

    fn asked(at: u64) -> Done {
        Done { at: Mono(at), by: Some("ana".into()) }
    }

    fn said(allowed: bool, at: u64) -> Answer {
        Answer { allowed, by: "lena".into(), at: Mono(at) }
    }

    #[test]
    fn a_horse_has_one_open_question_and_numbers_are_not_used_again() {
        let mut hay = Questions::default();
        assert_eq!((hay.ask(&"moss".into(), asked(1)), hay.ask(&"moss".into(), asked(2))), (1, 1));
        assert_eq!(hay.ask(&"otis".into(), asked(3)), 2);
        assert!(hay.answer(1, said(false, 5)));
        assert_eq!(hay.take_back(&"moss".into(), Mono(6)), Err(NoUndo::Nothing), "staff have answered");
        assert_eq!(hay.take_back(&"otis".into(), Mono(3 + UNDO_MS)), Err(NoUndo::TooLate));
        assert_eq!(hay.take_back(&"otis".into(), Mono(4)), Ok(2));
        assert_eq!(hay.ask(&"otis".into(), asked(7)), 3);
        assert_eq!(hay.open().map(|ask| ask.number).collect::<Vec<_>>(), [3]);
        assert!(!hay.answer(2, said(true, 8)), "nobody asks that any more");
    }

    #[test]
    fn staff_may_think_better_of_it_and_an_answer_that_comes_late_does_not_count() {
        let mut hay = Questions::default();
        hay.ask(&"moss".into(), asked(1));
        hay.answer(1, said(true, 10));
        hay.answer(1, said(false, 20));
        hay.answer(1, said(true, 15));
        assert_eq!(hay.all().next().and_then(|ask| ask.answer.clone()), Some(said(false, 20)));
    }

    #[test]
    fn a_mad_kiosk_fills_no_memory_and_no_open_question_is_lost() {
        let mut hay = Questions::default();
        hay.ask(&"moss".into(), asked(0));
        for at in 1..1000 {
            let number = hay.ask(&"otis".into(), asked(at));
            hay.answer(number, said(false, at));
        }
        assert_eq!((hay.all().count(), hay.open().count()), (KEPT, 1));
    }
}
