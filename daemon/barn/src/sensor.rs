//! Whether a sensor can be believed to be there. Terms: it is *heard* when a reading of it counts; its *cadence* is the
//! usual gap between two; it is *silent* when it has said nothing for several of its own gaps. What it measured is
//! for the concerns; this file knows only when it spoke, what it said of its battery, and whether it said goodbye.
//!
//! ```text
//!               heard                  nothing for `silent_after`, or its last will
//! never heard ────────▶ speaking ─────────────────────────────────────────────────▶ silent
//!                          ▲                         heard                            │
//!                          └───────────────────────────────────────────────────────────┘
//! ```

use serde::{Deserialize, Serialize};

use crate::limits::SensorLimits;
use crate::time::Mono;
use crate::units::{Dbm, Percent};

/// How many gaps the cadence rests on.
const GAPS: usize = 8;
/// Fewer gaps than this say nothing about a cadence.
const GAPS_KNOWN: usize = 3;

/// What is known of one sensor that has spoken or announced itself.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Heard {
    last: Option<Mono>,
    last_changed: Option<Mono>,
    /// The last gaps in milliseconds, oldest first.
    gaps: Vec<u64>,
    /// Since when its last will says that it is gone.
    gone_since: Option<Mono>,
    battery: Option<Percent>,
    signal: Option<Dbm>,
}

impl Heard {
    /// A reading of it counts, measured at this time. Readings that come late do not move the clock back.
    pub fn hear(&mut self, measured: Mono, changed: bool) {
        if let Some(last) = self.last {
            let gap = measured.since(last);
            if gap > 0 {
                if self.gaps.len() == GAPS {
                    self.gaps.remove(0);
                }
                self.gaps.push(gap);
            }
        }
        if self.last < Some(measured) {
            self.last = Some(measured);
        }
        if changed {
            self.last_changed = self.last;
        }
        self.gone_since = None;
    }

    /// Its own word, or its last will: it is there, or gone.
    pub fn announce(&mut self, online: bool, now: Mono) {
        self.gone_since = match (online, self.gone_since) {
            (true, _) => None,
            (false, since) => since.or(Some(now)),
        };
    }

    /// What is left in its battery.
    pub fn battery_is(&mut self, left: Percent) {
        self.battery = Some(left);
    }

    /// How strongly it is heard.
    pub fn signal_is(&mut self, strength: Dbm) {
        self.signal = Some(strength);
    }

    /// The last battery level it told.
    pub fn battery(&self) -> Option<Percent> {
        self.battery
    }

    /// How strongly it was last heard.
    pub fn signal(&self) -> Option<Dbm> {
        self.signal
    }

    /// When it was last heard.
    pub fn last(&self) -> Option<Mono> {
        self.last
    }

    /// When what it measures last changed: long ago is no fault in itself.
    pub fn last_changed(&self) -> Option<Mono> {
        self.last_changed
    }

    /// The usual gap between two readings, in milliseconds: the median of the last ones; none while too few are known.
    pub fn cadence(&self) -> Option<u64> {
        if self.gaps.len() < GAPS_KNOWN {
            return None;
        }
        let mut sorted = [0; GAPS];
        let sorted = &mut sorted[..self.gaps.len().min(GAPS)];
        sorted.copy_from_slice(&self.gaps[..sorted.len()]);
        sorted.sort_unstable();
        Some(sorted[sorted.len() / 2])
    }

    /// When it counts as silent, if nothing more is heard; none where it has never spoken. While the line to all sensors
    /// was down nobody could be heard, so patience begins again at `line_up`.
    pub fn silent_from(&self, limits: &SensorLimits, line_up: Mono) -> Option<Mono> {
        let last = self.last?;
        if let Some(gone) = self.gone_since {
            return Some(gone);
        }
        let at_most = limits.silent_at_most.as_millis();
        let patience = self.cadence().map_or(at_most, |gap| {
            // Not `clamp`: it panics where a barn has set the least above the most.
            (gap.saturating_mul(u64::from(limits.silent_after_gaps)))
                .max(limits.silent_at_least.as_millis())
                .min(at_most)
        });
        Some(last.max(line_up).plus(patience))
    }

    /// True where it has spoken once and is silent now, whoever's fault that is: what it said last says nothing about now.
    pub fn is_silent(&self, limits: &SensorLimits, now: Mono) -> bool {
        self.silent_from(limits, Mono(0)).is_some_and(|from| now >= from)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::Limits;

    fn spoke(every_min: u64, times: u64) -> Heard {
        let mut heard = Heard::default();
        for i in 0..times {
            heard.hear(Mono(i * every_min * 60_000), true);
        }
        heard
    }

    #[test]
    fn silence_is_judged_by_its_own_cadence() {
        let limits = Limits::default().sensors;
        // cadence in minutes, readings heard, minutes of patience after the last one
        for (every, times, patience) in [
            (1, 1, 60),  // not known yet: the most
            (1, 3, 60),  // two gaps are too few
            (1, 10, 5),  // five gaps
            (4, 10, 20), // five gaps
            (30, 10, 60),
        ] {
            let heard = spoke(every, times);
            let last = heard.last().expect("it spoke");
            assert_eq!(
                heard.silent_from(&limits, Mono(0)),
                Some(last.plus(patience * 60_000)),
                "every {every} min, {times} readings"
            );
        }
    }

    #[test]
    fn a_last_will_is_silence_at_once_and_a_word_ends_it() {
        let limits = Limits::default().sensors;
        let mut heard = spoke(1, 10);
        let now = heard.last().expect("it spoke").plus(1000);
        heard.announce(false, now);
        assert!(heard.is_silent(&limits, now));
        heard.announce(true, now.plus(1));
        assert!(!heard.is_silent(&limits, now.plus(1)));
    }

    #[test]
    fn one_outage_does_not_make_a_sensor_slow() {
        let mut heard = spoke(1, 10);
        let back = heard.last().expect("it spoke").plus(8 * 3_600_000);
        heard.hear(back, true);
        assert_eq!(heard.cadence(), Some(60_000));
    }

    #[test]
    fn a_late_reading_does_not_move_the_clock_back() {
        let mut heard = spoke(1, 10);
        let last = heard.last();
        heard.hear(Mono(30_000), true);
        assert_eq!(heard.last(), last);
    }
}
