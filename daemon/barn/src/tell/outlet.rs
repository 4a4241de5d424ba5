//! What waits for one receiver. Things of one moment are gathered into one message, and messages that follow each other closely
//! keep more and more apart: three in the first minutes, then one in ten. What comes meanwhile waits, and goes with the next. So
//! a flood is a few summaries, however many alarms it has.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::case::Why;
use crate::time::Mono;

/// A high alarm waits so long for what comes with it, in milliseconds.
const GATHER_HIGH_MS: u64 = 5_000;
/// Any other waits so long: within half a minute forty sensors have told that they are gone.
const GATHER_MS: u64 = 20_000;
/// That something is over may wait for company.
const GATHER_NOTICES_MS: u64 = 60_000;
/// After the first message of a burst and after the second the next waits so long,
const GAPS_MS: [u64; 2] = [60_000, 180_000];
/// and after each further one so long.
const GAP_MS: u64 = 600_000;
/// A burst is over once nothing has gone for so long.
const QUIET_MS: u64 = 1_200_000;

/// What waits for one receiver, and when it last got something.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub(super) struct Outlet {
    /// Alarms by number, and why.
    pub(super) waiting: BTreeMap<u64, Why>,
    /// Since when the oldest of them waits.
    since: Option<Mono>,
    /// How many messages of this burst have gone, and when the last did.
    burst: Option<(usize, Mono)>,
}

impl Outlet {
    /// This waits too. Of one alarm the latest is told.
    pub(super) fn put(&mut self, alarm: u64, why: Why, now: Mono) {
        self.waiting.insert(alarm, why);
        self.since.get_or_insert(now);
    }

    /// This need not be told any more. True where it was something to act on that had not been told.
    pub(super) fn drop_untold(&mut self, alarm: u64) -> bool {
        let untold = self.waiting.get(&alarm).is_some_and(|why| why.is_active());
        if untold {
            self.waiting.remove(&alarm);
            if self.waiting.is_empty() {
                self.since = None;
            }
        }
        untold
    }

    /// When the next message may go, quiet hours left out; none where nothing waits.
    pub(super) fn due(&self, any_high: bool) -> Option<Mono> {
        let since = self.since?;
        let gather = if any_high {
            GATHER_HIGH_MS
        } else if self.waiting.values().any(|why| why.is_active()) {
            GATHER_MS
        } else {
            GATHER_NOTICES_MS
        };
        let earliest = since.plus(gather);
        let allowed = match self.burst {
            Some((sent, last)) if earliest.since(last) < QUIET_MS => {
                last.plus(GAPS_MS.get(sent - 1).copied().unwrap_or(GAP_MS))
            }
            _ => earliest,
        };
        Some(earliest.max(allowed))
    }

    /// Takes all that waits: a message goes.
    pub(super) fn take(&mut self, now: Mono) -> BTreeMap<u64, Why> {
        self.since = None;
        let before = self.burst.filter(|(_, last)| now.since(*last) < QUIET_MS).map_or(0, |(sent, _)| sent);
        self.burst = Some((before + 1, now));
        std::mem::take(&mut self.waiting)
    }

    /// True where nothing is to be kept of it.
    pub(super) fn is_idle(&self, now: Mono) -> bool {
        self.waiting.is_empty() && self.burst.is_none_or(|(_, last)| now.since(last) >= QUIET_MS)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_flood_is_three_messages_and_then_one_in_ten_minutes() {
        let mut outlet = Outlet::default();
        let mut sent = Vec::new();
        // An alarm every ten seconds for half an hour.
        for second in (0..1800).step_by(10) {
            let now = Mono(second * 1000);
            while let Some(due) = outlet.due(false).filter(|due| *due <= now) {
                sent.push((due.0 / 1000, outlet.take(due).len()));
            }
            outlet.put(second, Why::Raised, now);
        }
        assert_eq!(sent, [(20, 2), (80, 6), (260, 18), (860, 60), (1460, 60)]);
    }

    #[test]
    fn what_is_over_before_it_was_told_is_not_told() {
        let mut outlet = Outlet::default();
        outlet.put(1, Why::Raised, Mono(0));
        assert!(outlet.drop_untold(1));
        assert_eq!(outlet.due(true), None);
        outlet.put(2, Why::Ended, Mono(0));
        assert!(!outlet.drop_untold(2));
        assert_eq!(outlet.due(false), Some(Mono(GATHER_NOTICES_MS)));
    }
}
