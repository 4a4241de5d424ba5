//! From noisy heights to how high the water stands, and when it changed. One of these listens to one sensor.
//!
//! Terms: the water *rests* at a height while readings scatter about it; a reading *off* it is the beginning of a change, or
//! nothing: a splash, a horse's head in the beam, a spike of the radio. A change is *settled* once readings agree on a new
//! height. Knows neither buckets nor horses, nor what a change means.
//!
//! ```text
//!            a reading off the rest             as many agree as are needed, or
//!   resting ───────────────────────▶ unsettled  some usual gaps pass and none contradicts
//!      ▲  ▲                              │  │
//!      │  └── back at the rest: nothing ─┘  │
//!      └──────── a new rest: a change ──────┘
//! ```

use serde::{Deserialize, Serialize};

use crate::time::Mono;

/// Readings that a rest is the middle of;
const RESTS_ON: usize = 9;
/// near the bottom of a sensor that speaks seldom, fewer: the middle of the last hour and a half lags behind water that drips away.
const RESTS_ON_LOW: usize = 3;
/// Readings off the rest that go one way all the while: the water moves, and where it is now is the best that can be said.
const SLIDES: usize = 6;
/// Readings off the rest of which none agree, whichever way they go: the same.
const UNSETTLED: usize = 12;
/// With a reading at least so often three must agree that water rose, else two: a horse may stand over its bucket for a
/// minute. What falls falls: nothing that hangs before a sensor makes water look lower.
pub const OFTEN_MS: u64 = 150_000;
/// Under this much water the bucket is as good as empty, in millimetres.
const NEARLY_DRY: f64 = 40.0;
/// and from this a drink may empty it.
const LOW: f64 = 120.0;
/// So many tenths of a usual gap between two words show that one was lost.
const LOST: u64 = 18;
/// So many usual gaps without a word make one reading count: one word may get lost, two hardly.
const WAITS: u64 = 3;
/// So many tenths of a usual gap where it shows a bucket nearly dry and its sensor speaks seldom: the next word is lost.
const WAITS_DRY: u64 = 15;
/// Scatter of a sensor that nobody has watched yet, in millimetres; what a simple ultrasonic one shows.
const FIRST_SCATTER: f64 = 2.0;
/// No sensor is believed to be better than this: its smallest step is no less.
const LEAST_SCATTER: f64 = 0.6;
/// Readings so many times the scatter away from the rest are off it,
const OFF: f64 = 4.0;
/// and at least so far, in millimetres: a bucket on a nail swings.
const OFF_AT_LEAST: f64 = 5.0;
/// A splash is no deeper than this, in millimetres: what is, was drunk.
const SPLASHES: f64 = 24.0;
/// Readings that differ by less than this share of a change agree about it.
const AGREE: f64 = 0.12;
/// Of a rest of so few readings each moves the middle: what it says is where the water came to rest.
const YOUNG: usize = 5;
/// Each reading at rest moves the scatter by this share.
const LEARNS: f64 = 1.0 / 40.0;

/// What a sensor's heights say.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Settled {
    /// The last readings at rest, in millimetres over the bottom, oldest first.
    rest: Vec<f64>,
    /// The middle of them.
    middle: f64,
    /// When the water came to this rest.
    since: Mono,
    /// When the last of them was measured.
    rested: Mono,
    /// Variance of a reading at rest, in square millimetres; none until a pair was seen.
    variance: Option<f64>,
    /// Readings off the rest since it was last seen.
    off: Vec<(Mono, f64)>,
    /// After the last of these it said what can not be.
    doubted: bool,
}

/// Water that stood at one height and then at another.
#[derive(Clone, Copy, PartialEq, Debug, Serialize, Deserialize)]
pub struct Change {
    /// Height before, in millimetres over the bottom.
    pub from: f64,
    /// Height after.
    pub to: f64,
    /// When it was last seen at rest before.
    pub began: Mono,
    /// When it was first seen off that rest, and how high.
    pub left: (Mono, f64),
    /// How far it had come by when, where it went fastest since it was last at rest.
    pub fastest: (f64, Mono),
    /// When anything was last read before it was seen at the new height.
    pub before: Mono,
    /// When it was first seen at the new height.
    pub ended: Mono,
    /// True where no two readings agreed: it moved all the while, and may still.
    pub sliding: bool,
    /// How low a single reading just before a rise saw it, and when: drunk before the hose came, or a spike of the radio.
    pub perhaps: Option<(f64, Mono)>,
}

impl Change {
    /// Water that was last seen at one height and then, first, at another; `left` and `before` are as in [`Change`].
    fn step((began, from): (Mono, f64), (ended, to): (Mono, f64), left: (Mono, f64), before: Mono) -> Change {
        Change { from, to, began, left, fastest: (to, ended), before, ended, sliding: false, perhaps: None }
    }
}

impl Settled {
    /// Takes a height, measured later than any before. `gap` is the usual time between two readings in milliseconds, where
    /// it is known.
    pub fn take(&mut self, height: f64, at: Mono, gap: Option<u64>) -> Vec<Change> {
        self.doubted = false;
        if self.rest.is_empty() {
            self.begin(&[height], at, at);
            return Vec::new();
        }
        if (height - self.height()).abs() <= self.off_by() {
            let back = self.drained_and_filled();
            let began = self.rested;
            self.off.clear();
            self.keep(height, at, gap);
            return back.map_or_else(Vec::new, |(low, left)| self.twice(low, left, began, at));
        }
        self.off.push((at, height));
        let Some(gap) = gap else {
            // Nobody knows when to expect another: this one has to do.
            return self.settle(1, false, 2);
        };
        // Where words were lost a slow sensor has kept silent for long: that water is gone which was low before can not wait for
        // its next.
        let silent = gap > OFTEN_MS && at.since(self.rested) * 10 > LOST * gap;
        let dry = silent && height < NEARLY_DRY && self.height() < LOW;
        let needed = match height > self.height() {
            true if gap <= OFTEN_MS => 3,
            false if dry => 1,
            _ => 2,
        };
        if self.agreeing() >= needed || self.dry_twice() {
            return self.settle(self.agreeing(), false, if gap > OFTEN_MS { 1 } else { 2 });
        }
        let slides = self.off.len() >= SLIDES
            && (self.off.is_sorted_by(|a, b| a.1 < b.1) || self.off.is_sorted_by(|a, b| a.1 > b.1));
        if slides || self.off.len() >= UNSETTLED { self.settle(1, true, 2) } else { Vec::new() }
    }

    /// Time passes: a change that nothing contradicted for [`WAITS`] usual gaps is one, and sooner where it shows a bucket nearly dry.
    pub fn wait(&mut self, now: Mono, gap: Option<u64>) -> Vec<Change> {
        match self.deadline(gap) {
            Some(due) if now >= due => self.settle(self.agreeing(), false, 2),
            _ => Vec::new(),
        }
    }

    /// The sensor has just said what can not be: what it said off the rest before that is no change by itself, though nothing
    /// contradict it.
    pub fn doubt(&mut self) {
        self.doubted = true;
    }

    /// When to call [`wait`](Self::wait), if no reading comes before.
    pub fn deadline(&self, gap: Option<u64>) -> Option<Mono> {
        let (last, height) = self.off.last().filter(|_| !self.doubted)?;
        let gap = gap.unwrap_or(0);
        let dry = gap > OFTEN_MS && *height < NEARLY_DRY;
        Some(last.plus(if dry { gap.saturating_mul(WAITS_DRY) / 10 } else { gap.saturating_mul(WAITS) }))
    }

    /// How high the water stands, in millimetres over the bottom: the middle of the readings at rest. Zero before the first.
    pub fn height(&self) -> f64 {
        self.middle
    }

    /// Since when the water stands at its height, after a reading of this time: a young rest is only known better now than when
    /// it began, and the middle of an older one lags behind by half of its readings.
    pub fn stands_since(&self, at: Mono, gap: Option<u64>) -> Mono {
        let lags = (self.rest.len() / 2) as u64 * gap.unwrap_or(0);
        if self.rest.len() <= YOUNG { self.since } else { Mono(at.0.saturating_sub(lags)).max(self.since) }
    }

    /// Standard deviation of a reading at rest, in millimetres.
    pub fn scatter(&self) -> f64 {
        self.variance.map_or(FIRST_SCATTER, f64::sqrt).max(LEAST_SCATTER)
    }

    /// True while the last reading was off the rest.
    pub fn is_unsettled(&self) -> bool {
        !self.off.is_empty()
    }

    /// True before the first reading.
    pub fn is_new(&self) -> bool {
        self.rest.is_empty()
    }

    fn off_by(&self) -> f64 {
        (OFF * self.scatter()).max(OFF_AT_LEAST)
    }

    fn begin(&mut self, heights: &[f64], since: Mono, at: Mono) {
        self.rest = heights.to_vec();
        self.since = since;
        self.rested = at;
        self.find_middle();
    }

    fn find_middle(&mut self) {
        // Each reading asks for it: sorted where it stands, with nothing fetched from the heap.
        let mut sorted = [0.0; RESTS_ON];
        let sorted = &mut sorted[..self.rest.len().min(RESTS_ON)];
        sorted.copy_from_slice(&self.rest[..sorted.len()]);
        sorted.sort_unstable_by(f64::total_cmp);
        self.middle = middle_of(sorted).unwrap_or(0.0);
    }

    fn keep(&mut self, height: f64, at: Mono, gap: Option<u64>) {
        if let Some(before) = self.rest.last() {
            // Two readings at rest differ by the square root of two times the scatter of one.
            let seen = (height - before).powi(2) / 2.0;
            let variance = self.variance.unwrap_or(FIRST_SCATTER * FIRST_SCATTER);
            self.variance = Some(variance + LEARNS * (seen.min(9.0 * variance) - variance));
        }
        let low = gap.is_some_and(|gap| gap > OFTEN_MS) && height < NEARLY_DRY;
        let most = if low { RESTS_ON_LOW } else { RESTS_ON };
        let gone = (self.rest.len() + 1).saturating_sub(most);
        self.rest.drain(..gone);
        self.rest.push(height);
        self.rested = at;
        self.find_middle();
    }

    /// How many of the last readings off the rest agree with the newest: within what scatter explains, or within a small
    /// share of the whole change, as water slops that was poured.
    fn agreeing(&self) -> usize {
        let Some((_, newest)) = self.off.last() else { return 0 };
        let within = self.off_by().max(AGREE * (newest - self.height()).abs());
        self.off.iter().rev().take_while(|(_, height)| (height - newest).abs() <= within).count()
    }

    /// Whether the newest reading and one of the two before it show it nearly dry, though it slops or falls on; what lies
    /// between these two was a spike, or it is dry again.
    fn dry_twice(&self) -> bool {
        let dry = |one: &&(Mono, f64)| one.1 < NEARLY_DRY.min(self.height());
        self.off.last().is_some_and(|newest| dry(&newest)) && self.off.iter().rev().take(3).filter(dry).count() >= 2
    }

    /// The last `count` readings off the rest are the new rest. One reading may be all that tells of a drink just before the
    /// hose: where the water stood lower in between, it fell and rose again, two changes.
    fn settle(&mut self, count: usize, sliding: bool, least: usize) -> Vec<Change> {
        let (from, began, deep) = (self.height(), self.rested, self.deep());
        let off = std::mem::take(&mut self.off);
        let (between, new) = off.split_at(off.len() - count.clamp(1, off.len()));
        let heights: Vec<f64> = new.iter().map(|(_, height)| *height).collect();
        let last = new[new.len() - 1].0;
        self.begin(&heights, new[0].0, last);
        let to = self.height();
        // It was there when it was first seen there, though a splash may have come in between.
        let within = self.off_by();
        let first = off.iter().position(|(_, height)| (height - to).abs() <= within).unwrap_or(between.len());
        let (ended, before) = (off[first].0, if first == 0 { began } else { off[first - 1].0 });
        let left = off[0];
        if let Some((top, reached, rested)) = self.filled_and_drunk(&off[..first], from, to).filter(|_| !sliding) {
            let rise = Change::step((began, from), (reached, top), left, began);
            return vec![rise, Change::step((rested, top), (ended, to), off[first], before)];
        }
        let under = off[..first].iter().filter(|(_, height)| *height < from - deep).count();
        let lowest = off[..first].iter().min_by(|a, b| a.1.total_cmp(&b.1)).copied();
        match lowest {
            Some((at, low)) if !sliding && low < from - deep && to > from && under >= least => {
                let prior = off.iter().rev().find(|one| one.0 < at).map_or(began, |one| one.0);
                vec![
                    Change::step((began, from), (at, low), left, prior),
                    Change::step((at, low), (ended, to), (ended, to), at),
                ]
            }
            _ => {
                let fastest = fastest(from, to, began, &off);
                let perhaps = lowest.filter(|(_, low)| !sliding && *low < from - deep && to > from);
                let perhaps = perhaps.map(|(at, low)| (low, at));
                vec![Change { from, to, began, left, fastest, before, ended, sliding, perhaps }]
            }
        }
    }

    /// Where it was filled and drunk from before that settled: how high it stood in between, when it was first seen there and when
    /// last. It stood still twice, and was seen on its way up before, or on its way down after, or slopping: a head in the beam
    /// does not do so.
    fn filled_and_drunk(&self, off: &[(Mono, f64)], from: f64, to: f64) -> Option<(f64, Mono, Mono)> {
        let deep = self.deep();
        let (over_from, over) = (from + deep, from.max(to) + deep);
        let at = (1..off.len()).rev().find(|&at| {
            let (one, other) = (off[at - 1].1, off[at].1);
            let (low, high) = (one.min(other), one.max(other));
            let before = at.checked_sub(2).is_some_and(|k| (over_from..low + SPLASHES).contains(&off[k].1));
            let after = off.get(at + 1).is_some_and(|(_, after)| (over..low + SPLASHES).contains(after));
            low > over && high - low <= self.off_by() && (before || after)
        })?;
        let top = f64::midpoint(off[at - 1].1, off[at].1);
        let first = at.checked_sub(2).filter(|&k| (off[k].1 - top).abs() <= SPLASHES).unwrap_or(at - 1);
        Some((top, off[first].0, off[at].0))
    }

    /// Where the water is back at its rest, and more than one reading was far under it: the lowest of these, and the first.
    fn drained_and_filled(&self) -> Option<((Mono, f64), (Mono, f64))> {
        let under = self.height() - self.deep();
        let mut low = self.off.iter().filter(|(_, height)| *height < under);
        let first = *low.next()?;
        let lowest = low.fold(None, |least: Option<(Mono, f64)>, one| {
            Some(least.filter(|least| least.1 < one.1).unwrap_or(*one))
        })?;
        Some((if first.1 < lowest.1 { first } else { lowest }, first))
    }

    /// It fell to a height and rose to its rest again.
    fn twice(&self, (at, low): (Mono, f64), left: (Mono, f64), began: Mono, ended: Mono) -> Vec<Change> {
        let rest = self.height();
        vec![
            Change::step((began, rest), (at, low), left, began),
            Change::step((at, low), (ended, rest), (ended, rest), at),
        ]
    }

    /// What lies so far off the rest is no splash.
    fn deep(&self) -> f64 {
        self.off_by().max(SPLASHES)
    }
}

/// How far the water had come by when, where it went fastest. What stands before a sensor only makes it look later.
fn fastest(from: f64, to: f64, began: Mono, off: &[(Mono, f64)]) -> (f64, Mono) {
    let (low, high) = (from.min(to), from.max(to));
    let pace = |one: &(f64, Mono)| (one.0 - from).abs() / one.1.since(began).max(1) as f64;
    let reached = off.iter().map(|(at, height)| (height.clamp(low, high), *at));
    reached.max_by(|a, b| pace(a).total_cmp(&pace(b))).unwrap_or((to, began))
}

/// The middle of some numbers; of an even count, midway between the two.
pub fn median(numbers: impl IntoIterator<Item = f64>) -> Option<f64> {
    let mut sorted: Vec<f64> = numbers.into_iter().collect();
    sorted.sort_by(f64::total_cmp);
    middle_of(&sorted)
}

fn middle_of(sorted: &[f64]) -> Option<f64> {
    let upper = *sorted.get(sorted.len() / 2)?;
    Some(f64::midpoint(sorted[(sorted.len() - 1) / 2], upper))
}

#[cfg(test)]
mod tests {
    use super::*;

    const MINUTE: u64 = 60_000;

    /// Feeds heights a minute apart, and says what changes were seen, rounded: "from>to at minute".
    fn check(gap_min: u64, heights: &[f64], expected: &[&str]) -> Settled {
        let mut settled = Settled::default();
        let mut seen = Vec::new();
        for (n, height) in heights.iter().enumerate() {
            let at = Mono(n as u64 * gap_min * MINUTE);
            for change in settled.take(*height, at, Some(gap_min * MINUTE)) {
                let minute = change.ended.0 / MINUTE;
                seen.push(format!(
                    "{:.0}>{:.0} at {minute}{}",
                    change.from,
                    change.to,
                    if change.sliding { " sliding" } else { "" }
                ));
            }
        }
        assert_eq!(seen, expected, "{heights:?}");
        settled
    }

    #[test]
    fn scatter_is_no_change() {
        let settled = check(1, &[200.0, 202.0, 199.0, 201.0, 198.0, 200.0, 203.0], &[]);
        assert!((settled.height() - 200.0).abs() < 1.5);
    }

    #[test]
    fn a_step_is_one_change_once_readings_agree() {
        check(1, &[200.0, 201.0, 200.0, 150.0, 151.0, 150.0, 149.0], &["200>150 at 3"]);
        // One in ten minutes: two are enough.
        check(10, &[200.0, 201.0, 200.0, 150.0, 151.0], &["200>150 at 30"]);
    }

    #[test]
    fn a_splash_or_a_head_in_the_beam_is_none() {
        check(1, &[200.0, 201.0, 200.0, 320.0, 90.0, 200.0, 199.0, 201.0], &[]);
        check(1, &[200.0, 201.0, 200.0, 280.0, 281.0, 200.0, 199.0, 201.0], &[]);
        check(1, &[200.0, 201.0, 200.0, 290.0, 310.0, 160.0, 161.0, 159.0, 160.0], &["200>160 at 5"]);
    }

    #[test]
    fn a_drink_just_before_the_hose_is_seen_by_one_reading() {
        check(10, &[200.0, 201.0, 200.0, 130.0, 281.0, 280.0], &["200>130 at 30", "130>280 at 40"]);
        check(10, &[200.0, 201.0, 200.0, 190.0, 281.0, 280.0], &["200>280 at 40"]);
        // Each minute one reading may be a spike of the radio, two are none.
        check(1, &[200.0, 201.0, 200.0, 130.0, 281.0, 280.0, 282.0], &["200>281 at 4"]);
        check(1, &[200.0, 201.0, 200.0, 170.0, 130.0, 281.0, 280.0, 282.0], &["200>130 at 4", "130>281 at 5"]);
    }

    #[test]
    fn a_reading_far_under_the_new_rest_is_no_drink_before_it() {
        check(10, &[200.0, 201.0, 200.0, 281.0, 100.0, 280.0, 281.0], &["200>280 at 30"]);
    }

    #[test]
    fn what_was_low_and_is_gone_after_lost_words_waits_for_no_other() {
        let mut settled = Settled::default();
        let gap = Some(10 * MINUTE);
        for n in 0..4 {
            assert!(settled.take(100.0, Mono(n * 10 * MINUTE), gap).is_empty());
        }
        let changes = settled.take(5.0, Mono(60 * MINUTE), gap);
        assert_eq!(changes.len(), 1, "half an hour without a word");
        let mut settled = Settled::default();
        settled.take(100.0, Mono(0), gap);
        assert!(settled.take(5.0, Mono(10 * MINUTE), gap).is_empty(), "one reading may be a spike");
    }

    #[test]
    fn two_words_that_it_is_nearly_dry_agree_though_it_slops() {
        check(10, &[200.0, 201.0, 200.0, 35.0, 4.0], &["200>4 at 40"]);
        check(10, &[200.0, 201.0, 200.0, 85.0, 50.0], &[]);
    }

    #[test]
    fn a_spike_between_two_words_that_it_is_nearly_dry_parts_them_not() {
        check(10, &[141.0, 142.0, 141.0, 11.0, 221.0, 14.0], &["141>14 at 30"]);
        check(10, &[141.0, 142.0, 141.0, 11.0, 221.0, 223.0], &["141>11 at 30", "11>222 at 40"]);
        check(10, &[141.0, 142.0, 141.0, 81.0, 221.0, 84.0], &[]);
    }

    #[test]
    fn a_young_rest_stands_since_it_began_and_an_old_one_lags() {
        let mut settled = Settled::default();
        for n in 0..20 {
            settled.take(200.0, Mono(n * MINUTE), Some(MINUTE));
            let since = settled.stands_since(Mono(n * MINUTE), Some(MINUTE)).0 / MINUTE;
            assert_eq!(since, if n < 5 { 0 } else { n - n.div_ceil(2).min(4) }, "at {n} min");
        }
    }

    #[test]
    fn what_was_drunk_and_filled_up_again_at_once_is_both() {
        check(1, &[200.0, 201.0, 200.0, 160.0, 120.0, 170.0, 201.0, 200.0], &["200>120 at 4", "120>200 at 6"]);
        check(1, &[200.0, 201.0, 200.0, 120.0, 201.0, 200.0], &[]);
    }

    #[test]
    fn what_was_filled_and_drunk_from_at_once_is_both() {
        let rest = [100.0, 101.0, 100.0];
        let seen = |then: &[f64], expected: &[&str]| check(1, &[&rest, then].concat(), expected);
        seen(&[160.0, 190.0, 189.0, 150.0, 131.0, 130.0, 132.0], &["100>190 at 4", "190>131 at 7"]);
        seen(&[205.0, 190.0, 189.0, 131.0, 130.0, 132.0], &["100>190 at 3", "190>131 at 6"]);
        seen(&[190.0, 189.0, 160.0, 131.0, 130.0, 132.0], &["100>190 at 3", "190>131 at 6"]);
        // A head in the beam neither comes up with the water nor stands still.
        seen(&[190.0, 189.0, 131.0, 130.0, 132.0], &["100>131 at 5"]);
        seen(&[160.0, 190.0, 170.0, 131.0, 130.0, 132.0], &["100>131 at 6"]);
    }

    #[test]
    fn after_a_word_that_can_not_be_one_reading_counts_only_once_another_agrees() {
        let gap = Some(10 * MINUTE);
        let mut settled = check(10, &[200.0, 201.0, 200.0, 12.0], &[]);
        settled.doubt();
        assert_eq!((settled.deadline(gap), settled.wait(Mono(90 * MINUTE), gap)), (None, Vec::new()));
        let change = settled.take(14.0, Mono(100 * MINUTE), gap)[0];
        assert_eq!((change.to, change.ended), (13.0, Mono(30 * MINUTE)));
    }

    #[test]
    fn water_that_moves_all_the_while_is_followed() {
        let heights: Vec<f64> = (0..14).map(|n| 300.0 - 15.0 * f64::from(n)).collect();
        check(10, &heights, &["300>210 at 60 sliding", "210>120 at 120 sliding"]);
    }

    #[test]
    fn one_reading_counts_after_some_gaps_in_which_nothing_contradicts() {
        let gap = Some(10 * MINUTE);
        for (height, due) in [(100.0, 60), (12.0, 45)] {
            let mut settled = check(10, &[200.0, 201.0, 200.0, height], &[]);
            assert_eq!(settled.deadline(gap), Some(Mono(due * MINUTE)));
            assert_eq!(settled.wait(Mono((due - 1) * MINUTE), gap), []);
            let change = settled.wait(Mono(due * MINUTE), gap)[0];
            assert_eq!((change.to, change.ended), (height, Mono(30 * MINUTE)));
            assert_eq!(settled.deadline(gap), None);
        }
    }

    #[test]
    fn a_sensor_whose_pace_nobody_knows_is_believed_at_once() {
        let mut settled = Settled::default();
        assert_eq!(settled.take(200.0, Mono(0), None), []);
        assert_eq!(settled.take(10.0, Mono(1), None)[0].to, 10.0);
    }

    #[test]
    fn it_learns_how_much_its_sensor_scatters() {
        let noisy: Vec<f64> = (0..200).map(|n| 200.0 + f64::from(n * 37 % 13) - 6.0).collect();
        let settled = check(1, &noisy, &[]);
        assert!((3.0..6.0).contains(&settled.scatter()), "{}", settled.scatter());
        let quiet = check(1, &[200.0; 300], &[]);
        assert!(quiet.scatter() < 0.7, "{}", quiet.scatter());
    }
}
