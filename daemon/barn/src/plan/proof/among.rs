//! The labels of one minute, and which of them are needless.
//!
//! They stand in chains by what has begun, cheapest first: what is to beat a label stands before it, and what it may beat
//! itself stands after it.

use super::items::Cost;
use super::label::{Mark, NONE};
use crate::plan::day::Minute;

/// Chains; many more than there are often sets of begun jobs in a minute.
const CHAINS: usize = 2048;

/// The labels of a minute.
pub(super) struct Among {
    entries: Vec<Entry>,
    /// By chain: the minute for which it was begun last, and its first entry.
    chains: Vec<(Minute, u32)>,
    /// Labels compared since somebody asked.
    compared: u64,
}

struct Entry {
    mark: Mark,
    id: u32,
    next: u32,
}

impl Among {
    pub(super) fn new() -> Among {
        Among { entries: Vec::new(), chains: vec![(Minute::MIN, NONE); CHAINS], compared: 0 }
    }

    /// Forgets the labels of the minute before. Minutes only grow.
    pub(super) fn clear(&mut self) {
        self.entries.clear();
    }

    /// How many labels have been compared since it was last asked.
    pub(super) fn compared(&mut self) -> u64 {
        std::mem::take(&mut self.compared)
    }

    /// Puts a label among the others of the minute, unless one there beats it; false then. `beats(a, b, cheaper)` says of two
    /// labels, the first of whose marks is no worse, and cheaper by so much, whether it makes the second needless; `beaten` is
    /// told which are.
    pub(super) fn enter(
        &mut self,
        t: Minute,
        mark: Mark,
        id: u32,
        beats: impl Fn(u32, u32, Cost) -> bool,
        mut beaten: impl FnMut(u32),
    ) -> bool {
        let chain = (mark.stages.wrapping_mul(0x9e37_79b9_7f4a_7c15) >> 48) as usize % CHAINS;
        let first = match self.chains[chain] {
            (minute, first) if minute == t => first,
            _ => NONE,
        };
        let (mut before, mut at) = (NONE, first);
        while let Some(entry) = self.entries.get(at as usize).filter(|entry| entry.mark.worth <= mark.worth) {
            if entry.mark.stages == mark.stages {
                self.compared += 1;
                if entry.mark.no_later(&mark) && beats(entry.id, id, mark.worth - entry.mark.worth) {
                    return false;
                }
            }
            (before, at) = (at, entry.next);
        }
        let new = self.entries.len() as u32;
        let mut last = new;
        self.entries.push(Entry { mark, id, next: at });
        match self.entries.get_mut(before as usize) {
            Some(before) => (before.next, self.chains[chain]) = (new, (t, first)),
            None => self.chains[chain] = (t, new),
        }
        while let Some(entry) = self.entries.get(at as usize) {
            let next = entry.next;
            let same = entry.mark.stages == mark.stages;
            self.compared += u64::from(same);
            if same && mark.no_later(&entry.mark) && beats(id, entry.id, entry.mark.worth - mark.worth) {
                beaten(entry.id);
                self.entries[last as usize].next = next;
            } else {
                last = at;
            }
            at = next;
        }
        true
    }
}
