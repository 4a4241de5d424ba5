//! The rows of the history that are at hand: written with everything that becomes of an alarm.

use super::alarms::Alarms;
use super::record::Record;
use super::{Alarm, Cause};
use crate::effect::Effect;
use crate::time::Mono;

/// So many; the journal keeps the rest.
const RECORDS_MOST: usize = 1_000;

impl Alarms {
    /// What became of the alarms that stand and of those that ended lately, by number.
    pub fn records(&self) -> impl Iterator<Item = &Record> {
        self.records.values()
    }

    /// What became of the alarm of that number, where it is at hand.
    pub fn record(&self, id: u64) -> Option<&Record> {
        self.records.get(&id)
    }

    /// Lets go of rows that ended before that time.
    pub fn forget_records(&mut self, before: Mono) {
        self.records.retain(|_, record| record.ended.as_ref().is_none_or(|(at, _)| at.mono >= before));
    }

    pub(super) fn begin_record(&mut self, cause: &Cause, alarm: &Alarm, effects: &mut Vec<Effect>) {
        while self.records.len() >= RECORDS_MOST {
            let oldest = self.records.iter().find(|(_, record)| record.ended.is_some()).map(|(id, _)| *id);
            let Some(oldest) = oldest else { break };
            self.records.remove(&oldest);
        }
        let record = Record {
            alarm: alarm.clone(),
            cause: cause.clone(),
            text: alarm.what.to_string(),
            seen: None,
            aside: Vec::new(),
            told: Vec::new(),
            chattered: false,
            ended: None,
        };
        effects.push(Effect::Keep(Box::new(record.clone())));
        self.records.insert(alarm.id, record);
    }

    /// Changes a row of the history, and has it kept where that changed it.
    pub(super) fn write(&mut self, id: u64, effects: &mut Vec<Effect>, change: impl FnOnce(&mut Record)) {
        let Some(record) = self.records.get_mut(&id) else { return };
        let before = record.clone();
        change(record);
        if *record != before {
            effects.push(Effect::Keep(Box::new(record.clone())));
        }
    }
}
