//! The last observations of each horse, who made them and when, and what was said to them. Knows no alarm and no screen.

use std::collections::{BTreeMap, VecDeque};

use serde::{Deserialize, Serialize};

use crate::id::{HorseId, PersonId};
use crate::time::{Mono, Wall};

use super::observed::Observed;
use super::vitals::{Condition, Judgement};

/// So many are kept of each horse.
const KEPT: usize = 10;

/// One look at a horse.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Observation {
    /// When, by the running clock.
    pub at: Mono,
    /// When, by the clock on the wall; none where it was not set.
    pub wall: Option<Wall>,
    /// By whom.
    pub by: PersonId,
    /// Whether the horse had worked.
    pub condition: Condition,
    /// What was measured and seen.
    pub seen: Observed,
    /// What was said to it then, by the horse's record as it was then.
    pub judgement: Judgement,
}

/// The last observations by horse, oldest first.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Record(BTreeMap<HorseId, VecDeque<Observation>>);

impl Record {
    /// Keeps one, in order of time: a kiosk that was cut off sends late. True where it is the latest of its horse.
    pub fn keep(&mut self, horse: &HorseId, observation: Observation) -> bool {
        let list = self.0.entry(horse.clone()).or_default();
        let at = list.partition_point(|other| other.at <= observation.at);
        let latest = at == list.len();
        list.insert(at, observation);
        if list.len() > KEPT {
            list.pop_front();
        }
        latest
    }

    /// Those of a horse, latest first.
    pub fn of(&self, horse: &HorseId) -> impl Iterator<Item = &Observation> {
        self.0.get(horse).into_iter().flat_map(|list| list.iter().rev())
    }

    /// Forgets horses that have left the book.
    pub fn retain(&mut self, stays: impl Fn(&HorseId) -> bool) {
        self.0.retain(|horse, _| stays(horse));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ten_are_kept_in_order_of_time() {
        let mut record = Record::default();
        let at = |millis| Observation {
            at: Mono(millis),
            wall: None,
            by: "ana".into(),
            condition: Condition::AtRest,
            seen: Observed::default(),
            judgement: Judgement::default(),
        };
        for millis in 1..=12 {
            assert!(record.keep(&"moss".into(), at(millis * 10)));
        }
        assert!(!record.keep(&"moss".into(), at(115)), "sent late");
        let kept: Vec<u64> = record.of(&"moss".into()).map(|observation| observation.at.0).collect();
        assert_eq!(kept, [120, 115, 110, 100, 90, 80, 70, 60, 50, 40]);
        assert_eq!(record.of(&"juniper".into()).count(), 0);
        record.retain(|horse| horse.as_str() != "moss");
        assert_eq!(record.of(&"moss".into()).count(), 0);
    }
}
