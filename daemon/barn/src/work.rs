//! What people said of their work today: which step for which ride was begun and done, when, by whom. Five steps follow
//! each other: brush, tack up, lead out, bring back, put away. This file knows no book, no clock and no plan.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::id::{PersonId, RideId};
use crate::input::{Mark, Step};
use crate::time::Mono;

/// How far one step is.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Stage {
    /// When it was begun, where somebody said.
    pub begun: Option<Mono>,
    /// When it was done; none while somebody is at it.
    pub done: Option<Mono>,
    /// Who is at it or did it, where somebody said.
    pub by: Option<PersonId>,
    /// Nobody said that it was done: a later step was.
    pub implied: bool,
}

impl Stage {
    /// The same as a mark.
    pub fn mark(&self) -> Mark {
        if self.done.is_some() { Mark::Done } else { Mark::Begun }
    }

    /// From when it was worked on, as far as known.
    pub fn from(&self) -> Mono {
        self.begun.or(self.done).unwrap_or_default()
    }
}

/// The steps of one day.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Work {
    /// Of which day: the steps of another say nothing about today.
    date: Option<NaiveDate>,
    stages: BTreeMap<RideId, BTreeMap<Step, Stage>>,
}

impl Work {
    /// A day of which nobody has said anything.
    pub const NONE: Work = Work { date: None, stages: BTreeMap::new() };

    /// Somebody said how far a step is. Steps before a begun one count as done: nobody tacks an unbrushed horse, they only
    /// forget to say so. Taking back a step takes back those after it, and what only followed from it of those before.
    pub fn mark(&mut self, ride: &RideId, step: Step, mark: Mark, by: Option<PersonId>, at: Mono) {
        let stages = self.stages.entry(ride.clone()).or_default();
        if mark == Mark::Open {
            let taken_back = stages.get(&step).map_or([None; 2], |stage| [stage.begun, stage.done]);
            stages.retain(|other, stage| {
                if *other < step && stage.implied && taken_back.contains(&stage.done) {
                    (stage.done, stage.implied) = (None, false);
                    return stage.begun.is_some();
                }
                *other < step
            });
            return;
        }
        for before in Step::ALL.into_iter().filter(|before| *before < step) {
            let stage =
                stages.entry(before).or_insert(Stage { begun: None, done: None, by: by.clone(), implied: true });
            stage.implied |= stage.done.is_none();
            stage.done.get_or_insert(at);
        }
        let stage = stages.entry(step).or_insert(Stage { begun: None, done: None, by: None, implied: false });
        stage.by = by.or(stage.by.take());
        stage.implied = false;
        if mark == Mark::Done {
            stage.done = Some(at);
        } else {
            stage.begun.get_or_insert(at);
            stage.done = None;
        }
    }

    /// A day begins. Gives yesterday's work, where there was any.
    pub fn turn_to(&mut self, date: NaiveDate) -> Option<Work> {
        if self.date == Some(date) {
            return None;
        }
        let before = std::mem::replace(self, Work { date: Some(date), stages: BTreeMap::new() });
        (!before.stages.is_empty()).then_some(before)
    }

    /// How far a step is for a ride; none where nobody said anything.
    pub fn stage(&self, ride: &RideId, step: Step) -> Option<&Stage> {
        self.stages.get(ride)?.get(&step)
    }

    /// Everything that was said, by ride and step.
    pub fn stages(&self) -> impl Iterator<Item = (&RideId, Step, &Stage)> {
        self.stages.iter().flat_map(|(ride, stages)| stages.iter().map(move |(step, stage)| (ride, *step, stage)))
    }

    /// Of which day this is.
    pub fn date(&self) -> Option<NaiveDate> {
        self.date
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const R: &str = "r1";

    fn said(steps: &[(Step, Mark, u64)]) -> Work {
        let mut work = Work::default();
        for (step, mark, at) in steps {
            work.mark(&R.into(), *step, *mark, Some("ana".into()), Mono(*at));
        }
        work
    }

    /// Begun, done and implied of each step.
    fn check(steps: &[(Step, Mark, u64)], expected: &[(Step, Option<u64>, Option<u64>, bool)]) {
        let work = said(steps);
        let found: Vec<_> = work
            .stages()
            .map(|(_, step, stage)| (step, stage.begun.map(|at| at.0), stage.done.map(|at| at.0), stage.implied))
            .collect();
        assert_eq!(found, expected, "after {steps:?}");
    }

    #[test]
    fn a_step_is_begun_and_done() {
        use Mark::{Begun, Done};
        use Step::Brush;
        check(&[(Brush, Begun, 5)], &[(Brush, Some(5), None, false)]);
        check(&[(Brush, Begun, 5), (Brush, Done, 20)], &[(Brush, Some(5), Some(20), false)]);
        check(&[(Brush, Done, 20)], &[(Brush, None, Some(20), false)]);
    }

    #[test]
    fn what_was_forgotten_is_done_with_what_follows() {
        use Mark::{Begun, Done};
        use Step::{Brush, Tack};
        check(&[(Tack, Begun, 9)], &[(Brush, None, Some(9), true), (Tack, Some(9), None, false)]);
        check(&[(Brush, Begun, 2), (Tack, Done, 9)], &[(Brush, Some(2), Some(9), true), (Tack, None, Some(9), false)]);
    }

    #[test]
    fn taking_back_a_step_takes_back_what_follows_and_done_may_become_begun_again() {
        use Mark::{Begun, Done, Open};
        use Step::{Brush, Tack};
        check(&[(Brush, Done, 5), (Tack, Done, 9), (Tack, Open, 10)], &[(Brush, None, Some(5), false)]);
        check(&[(Brush, Done, 5), (Tack, Done, 9), (Brush, Open, 10)], &[]);
        check(&[(Brush, Begun, 1), (Brush, Done, 5), (Brush, Begun, 6)], &[(Brush, Some(1), None, false)]);
    }

    #[test]
    fn what_only_followed_from_a_step_is_taken_back_with_it() {
        use Mark::{Begun, Done, Open};
        use Step::{BringBack, Brush, LeadOut, PutAway, Tack};
        check(&[(Tack, Done, 9), (Tack, Open, 10)], &[]);
        check(&[(Tack, Begun, 7), (Tack, Done, 9), (Tack, Open, 10)], &[]);
        check(&[(Brush, Begun, 2), (Tack, Begun, 7), (Tack, Open, 10)], &[(Brush, Some(2), None, false)]);
        let tacked = (Tack, None, Some(9), false);
        let brushed = (Brush, None, Some(5), false);
        let put_away = [(Brush, Done, 5), (Tack, Done, 9), (PutAway, Done, 20)];
        check(&[&put_away[..], &[(PutAway, Open, 21)]].concat(), &[brushed, tacked]);
        check(&[&put_away[..], &[(BringBack, Open, 21)]].concat(), &[brushed, tacked]);
        // What was said in between stays.
        let out = (LeadOut, None, Some(10), false);
        let led_out = [(LeadOut, Done, 10), (PutAway, Done, 20), (PutAway, Open, 21)];
        check(&[&put_away[..2], &led_out].concat(), &[brushed, tacked, out]);
    }

    #[test]
    fn yesterdays_work_is_handed_out_once() {
        let day = NaiveDate::from_ymd_opt(2026, 6, 18).expect("a date");
        let mut work = Work::default();
        assert_eq!(work.turn_to(day), None);
        work.mark(&R.into(), Step::Brush, Mark::Done, None, Mono(1));
        assert_eq!(work.turn_to(day), None);
        let yesterday = work.turn_to(day.succ_opt().expect("a date")).expect("yesterday's work");
        assert_eq!((yesterday.date(), yesterday.stages().count(), work.stages().count()), (Some(day), 1, 0));
    }
}
