//! When somebody or a horse is to be had.

use crate::plan::day::{Minute, Span};

/// When somebody or a horse is to be had, by minute.
pub(super) struct Open {
    /// The first minute from then on that is taken.
    until: Vec<Minute>,
    /// The first minute from then on that is not.
    from: Vec<Minute>,
}

impl Open {
    pub(super) fn new(blocks: &[Span], first: Minute, minutes: usize) -> Open {
        let mut taken = vec![false; minutes];
        for block in blocks {
            let at = |minute: Minute| (minute - first).clamp(0, minutes as Minute) as usize;
            taken[at(block.from)..at(block.to)].fill(true);
        }
        let (mut until, mut from) = (vec![Minute::MAX / 2; minutes], vec![Minute::MAX / 2; minutes]);
        let mut next = [Minute::MAX / 2; 2];
        for t in (0..minutes).rev() {
            next[usize::from(taken[t])] = t as Minute;
            [from[t], until[t]] = next;
        }
        Open { until, from }
    }

    /// Whether a job of this length may begin then.
    pub(super) fn fits(&self, start: Minute, length: Minute) -> bool {
        self.until.get(start as usize).is_some_and(|&until| start + length <= until)
    }

    /// The first minute from then on that is to be had.
    pub(super) fn from(&self, minute: Minute) -> Minute {
        self.from.get(minute as usize).copied().unwrap_or(Minute::MAX / 2)
    }
}
