//! One vessel and its sensor: how much is in it, what was drunk, poured in or lost, and whether its sensor can be believed.
//! Joins [`Settled`], [`Steady`] and [`Repeats`]; knows no horse, no alarm and no other bucket.
//!
//! Every change of the litres is told once, as a [`Flow`]. A step down is a drink, or a spill where no horse drinks so fast or
//! so much; a step up is a refill; what changes between two steps is a sip, or a leak where it is steady. Together they
//! are the litres that were there less those that are there now, so that what was drunk in a day is no sum of errors.

use serde::{Deserialize, Serialize};

use super::settle::{Change, Settled, median};
use super::steady::{Slope, Steady};
use super::stuck::Repeats;
use super::vessel::{self, Level, Refused};
use crate::book::Vessel;
use crate::time::Mono;
use crate::units::{Litres, Millimetres};

/// A horse drinks at most so many litres in a minute: a swallow of 0.17 L, not quite one a second. From memory.
const DRINKS_PER_MINUTE: f64 = 9.0;
/// And so many at once: its stomach holds 3 to 4 US gallons.
const DRINKS_AT_ONCE: f64 = 15.0;
/// What goes faster than that by less than this is no spill: a word may come late.
const SPILL_AT_LEAST: f64 = 3.0;
/// Less than this poured in is no refill: the bucket was moved, or the sensor was.
const REFILL_AT_LEAST: f64 = 0.8;
/// What rises and falls back to where it was within this time was something before the sensor.
const PASSED_MS: u64 = 15 * 60_000;
/// What rises for no longer than this and then falls deeper was a head in the beam.
const HEAD_MS: u64 = 150_000;
/// So many readings in a row that can not be are a fault, and so many that can be are its end,
const WRONG_IN_A_ROW: u32 = 3;
/// or this many of the last twelve.
const WRONG_OF_TWELVE: u32 = 6;
const LAST_TWELVE: u16 = 0xfff;
/// With a reading at least so often a step is seen as it happens.
const OFTEN_MS: u64 = 150_000;
/// With fewer, a step of less than this may be part of a steady fall, in millimetres.
const STEP_MM: f64 = 25.0;
/// A steady change must be seen so many times, ten minutes apart, and of a slow sensor once more: a horse may sip steadily
/// for an hour.
const SURE_OF_SLOPE: u32 = 2;
/// Sips are told once they add up to this, in litres: telling each reading's scatter would be a waste.
const TOLD_FROM: f64 = 0.05;
/// A leak is over when the water has fallen by less than this in an hour, in millimetres.
const TIGHT_MM: f64 = 3.0;

/// A bucket and what is known of it.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Bucket {
    vessel: Vessel,
    settled: Settled,
    steady: Steady,
    repeats: Repeats,
    /// When the last reading that counts was measured.
    measured: Option<Mono>,
    /// Which of the last twelve readings were too high, and which too low: a bit each, the newest lowest.
    too_high: u16,
    too_low: u16,
    wrong: Option<(Fault, Mono)>,
    stuck: Option<Mono>,
    slope: Option<Slope>,
    /// A steady change that was seen this many times in a row and is not believed yet.
    slopes: u32,
    /// Millimetres by which drinks and refills have moved the water, so that what is steady is seen through them.
    stepped: f64,
    rise: Option<Change>,
    fills_to: FillMark,
    /// Litres of which everything that came and went has been told.
    told: f64,
}

/// What is wrong with a level sensor.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Fault {
    /// It sees something that stands far over the vessel's top: straw, a cobweb, ice on its face.
    Blocked,
    /// It sees what lies far under the vessel's bottom: it hangs upside down or askew, or looks past the vessel.
    TurnedAway,
    /// It says the same again and again.
    Stuck,
    /// It says that water rises by itself.
    Drifting,
}

/// Litres that came or went.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Flow {
    /// How.
    pub how: How,
    /// How many. Of a sip it may be under zero: readings scatter.
    pub litres: Litres,
    /// When anything was last read before.
    pub from: Mono,
    /// When it was first seen after.
    pub to: Mono,
}

impl Flow {
    /// When it was, as far as can be told: midway between the two readings that tell of it.
    pub fn middle(&self) -> Mono {
        self.from.plus(self.to.since(self.from) / 2)
    }
}

/// How litres come and go.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum How {
    /// Drunk in one go.
    Drank,
    /// Drunk too little at a time to be seen as a step.
    Sipped,
    /// Poured in.
    Refilled,
    /// Gone faster than a horse drinks.
    Spilled,
    /// Gone steadily.
    Leaked,
    /// The refill before was none: take it back.
    NotRefilled,
    /// Drunk between two readings of a slow sensor, together with a refill: told by the mark to which the bucket is filled.
    Unseen,
}

/// To how much a bucket is usually filled. Whoever fills it fills it to its mark; where a refill ends short of that, and
/// minutes passed before anybody looked, a horse has drunk in between.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
struct FillMark {
    /// Litres after each of the last refills, oldest first.
    last: Vec<f64>,
}

impl FillMark {
    const KEPT: usize = 15;
    const KNOWN: usize = 5;

    /// Takes the litres after a refill; gives those that are missing to the mark, nothing where that is not sure.
    fn filled(&mut self, litres: f64) -> f64 {
        let mark = median(self.last.iter().copied()).filter(|_| self.last.len() >= Self::KNOWN);
        let spread = mark.and_then(|mark| median(self.last.iter().map(|last| (last - mark).abs())));
        if self.last.len() == Self::KEPT {
            self.last.remove(0);
        }
        self.last.push(litres);
        match (mark, spread) {
            // Nobody's hand is steadier than a twentieth of the bucket; and where it is not steady at all nothing follows.
            (Some(mark), Some(spread)) if spread < 0.08 * mark && mark - litres > (4.0 * spread).max(0.06 * mark) => {
                mark - litres
            }
            _ => 0.0,
        }
    }
}

impl Bucket {
    /// A bucket of which nothing is known yet.
    pub fn new(vessel: Vessel) -> Self {
        Self {
            vessel,
            settled: Settled::default(),
            steady: Steady::default(),
            repeats: Repeats::default(),
            measured: None,
            too_high: 0,
            too_low: 0,
            wrong: None,
            stuck: None,
            slope: None,
            slopes: 0,
            stepped: 0.0,
            rise: None,
            fills_to: FillMark::default(),
            told: 0.0,
        }
    }

    /// The same bucket, measured anew by the book: what is in it counts afresh only if the vessel is another.
    #[must_use]
    pub fn measured_as(self, vessel: &Vessel) -> Self {
        if self.vessel == *vessel { self } else { Self::new(vessel.clone()) }
    }

    /// Takes a reading, measured at a time, and says what came and went by it. One that is not newer than the last
    /// says nothing about now and is left aside. `gap` is the usual time between two readings in milliseconds, where known.
    ///
    /// # Errors
    /// Where the level can not be in this vessel. Several of these, and the sensor is faulty.
    pub fn take(&mut self, reading: Millimetres, at: Mono, gap: Option<u64>) -> Result<Vec<Flow>, Refused> {
        if self.measured.is_some_and(|last| at <= last) || self.is_repeat(reading, at, gap) {
            return Ok(Vec::new());
        }
        let height = vessel::height(&self.vessel, reading);
        self.judge(&height, at);
        let height = height.inspect_err(|_| self.settled.doubt())?.get();
        self.measured = Some(at);
        self.repeats.take(reading.get(), at.0);
        self.stuck = self.repeats.is_stuck(at.0).then(|| self.stuck.unwrap_or(at));
        let mut flows = Vec::new();
        let new = self.settled.is_new();
        let changes = self.settled.take(height, at, gap);
        if new {
            self.told = self.litres();
        } else if changes.is_empty() {
            self.seeped(self.litres(), TOLD_FROM, at, &mut flows);
        }
        for change in changes {
            self.changed(change, gap, &mut flows);
        }
        // A splash is no slope; but of a slow sensor each reading is needed.
        let slow = gap.is_some_and(|gap| gap > OFTEN_MS);
        if (slow || !self.settled.is_unsettled()) && self.steady.take(height - self.stepped, at) {
            self.look_for_slope(slow, at, &mut flows);
        }
        Ok(flows)
    }

    /// Time passes: what nothing contradicted counts.
    pub fn wait(&mut self, now: Mono, gap: Option<u64>) -> Vec<Flow> {
        let mut flows = Vec::new();
        for change in self.settled.wait(now, gap) {
            self.changed(change, gap, &mut flows);
        }
        flows
    }

    /// When to call [`wait`](Self::wait), if no reading comes before.
    pub fn deadline(&self, gap: Option<u64>) -> Option<Mono> {
        self.settled.deadline(gap)
    }

    /// How much is in it, where that was ever known.
    pub fn level(&self) -> Option<Level> {
        (!self.settled.is_new()).then(|| vessel::at(&self.vessel, Millimetres(self.settled.height())))
    }

    /// What it holds when full; nothing where its measures are wrong.
    pub fn full(&self) -> Litres {
        vessel::full(&self.vessel).unwrap_or_default()
    }

    /// When the last reading that counts was measured.
    pub fn measured(&self) -> Option<Mono> {
        self.measured
    }

    /// What is wrong with its sensor, and since when.
    pub fn fault(&self) -> Option<(Fault, Mono)> {
        let drifting = self.slope.filter(|slope| slope.mm_per_hour > 0.0).map(|slope| (Fault::Drifting, slope.since));
        self.wrong.or(self.stuck.map(|since| (Fault::Stuck, since))).or(drifting)
    }

    /// The litres that it loses in an hour, and since when, where it leaks.
    pub fn leak(&self) -> Option<(Litres, Mono)> {
        let slope = self.slope.filter(|slope| slope.mm_per_hour < 0.0)?;
        let height = self.settled.height();
        let litres = |height: f64| vessel::at(&self.vessel, Millimetres(height)).litres.get();
        Some((Litres(litres(height - slope.mm_per_hour) - litres(height)), slope.since))
    }

    /// True where a radio said a word twice: the same reading, sooner than the sensor measures.
    fn is_repeat(&self, reading: Millimetres, at: Mono, gap: Option<u64>) -> bool {
        self.repeats.last() == Some(reading.get())
            && self.measured.zip(gap).is_some_and(|(last, gap)| at.since(last) < gap / 2)
    }

    fn litres(&self) -> f64 {
        self.level().map_or(0.0, |level| level.litres.get())
    }

    fn judge(&mut self, height: &Result<Millimetres, Refused>, at: Mono) {
        let (high, low) = match height {
            Ok(_) => (0, 0),
            Err(Refused::Implausible { height, high, .. }) if height > high => (1, 0),
            Err(_) => (0, 1),
        };
        self.too_high = (self.too_high << 1 | high) & LAST_TWELVE;
        self.too_low = (self.too_low << 1 | low) & LAST_TWELVE;
        let wrong = self.too_high | self.too_low;
        if wrong == 0 {
            self.wrong = None;
            return;
        }
        let is_wrong = high + low > 0;
        let in_a_row = if is_wrong { wrong.trailing_ones() } else { wrong.trailing_zeros() };
        let fault =
            if 2 * self.too_high.count_ones() >= wrong.count_ones() { Fault::Blocked } else { Fault::TurnedAway };
        let many = (is_wrong && in_a_row >= WRONG_IN_A_ROW) || wrong.count_ones() >= WRONG_OF_TWELVE;
        if many || (is_wrong && self.settled.is_new()) {
            self.wrong = Some((fault, self.wrong.map_or(at, |(_, since)| since)));
        } else if !is_wrong && (in_a_row >= WRONG_IN_A_ROW || self.settled.is_new()) {
            self.wrong = None;
        }
    }

    fn changed(&mut self, change: Change, gap: Option<u64>, flows: &mut Vec<Flow>) {
        let held = |height: f64| vessel::at(&self.vessel, Millimetres(height)).litres.get();
        let (before, after) = (held(change.from), held(change.to));
        self.seeped(before, f64::MIN_POSITIVE, change.began, flows);
        self.told = after;
        let litres = |height: f64| vessel::at(&self.vessel, Millimetres(height)).litres.get();
        let rose = after - before;
        // A word that came twice may stand closer to the next than the sensor measures.
        let minutes = change.ended.since(change.began).max(gap.unwrap_or(0)) as f64 / 60_000.0;
        let mut tell = |how, litres: f64| {
            flows.push(Flow { how, litres: Litres(litres), from: change.before, to: change.ended });
        };
        let steadily = if self.slope.is_some() { How::Leaked } else { How::Sipped };
        if change.sliding {
            return tell(steadily, -rose);
        }
        // Of a slow sensor a small step may be a leak's.
        let moved = change.to - change.from;
        if moved.abs() >= STEP_MM || gap.is_some_and(|gap| gap <= OFTEN_MS) {
            self.stepped += moved;
        }
        if rose >= REFILL_AT_LEAST {
            tell(How::Refilled, rose);
            self.rise = Some(change);
            let short = self.fills_to.filled(litres(change.to));
            if short > 0.0 && gap.is_some_and(|gap| gap > OFTEN_MS) {
                tell(How::Unseen, short);
            }
            return;
        }
        let mut fell = -rose;
        if let Some(rise) = self.rise.take() {
            let after = change.began.since(rise.ended);
            let back = (change.to - rise.from).abs() <= 2.0 * self.settled.scatter();
            if back && after <= PASSED_MS {
                return tell(How::NotRefilled, litres(rise.to) - litres(rise.from));
            }
            // No horse drinks while the hand with the hose is still there: that was its head.
            if change.to < rise.from && after <= HEAD_MS {
                tell(How::NotRefilled, litres(rise.to) - litres(rise.from));
                fell = litres(rise.from) - litres(change.to);
            }
        }
        if fell >= DRINKS_AT_ONCE || fell > DRINKS_PER_MINUTE * minutes + SPILL_AT_LEAST {
            tell(How::Spilled, fell);
        } else if rose > 0.0 {
            tell(How::Sipped, fell);
        } else {
            tell(How::Drank, fell);
        }
    }

    /// The middle of the readings moved without a step, to so many litres; told once it is worth it.
    fn seeped(&mut self, to: f64, from: f64, at: Mono, flows: &mut Vec<Flow>) {
        let litres = self.told - to;
        if litres.abs() >= from {
            let how = if self.slope.is_some() { How::Leaked } else { How::Sipped };
            flows.push(Flow { how, litres: Litres(litres), from: at, to: at });
            self.told = to;
        }
    }

    fn look_for_slope(&mut self, slow: bool, at: Mono, flows: &mut Vec<Flow>) {
        let found = self.steady.slope(self.settled.scatter());
        self.slopes = if found.is_some() { self.slopes + 1 } else { 0 };
        match (found, self.slope) {
            (Some(_), None) if self.slopes < SURE_OF_SLOPE + u32::from(slow) => {}
            (Some(slope), None) => {
                // What went so before anybody knew was taken for sips.
                let fell = -slope.mm_per_hour * at.since(slope.since) as f64 / 3_600_000.0;
                let before = vessel::at(&self.vessel, Millimetres(self.settled.height() + fell));
                let litres = before.litres.get() - self.litres();
                flows.push(Flow { how: How::Sipped, litres: Litres(-litres), from: slope.since, to: at });
                flows.push(Flow { how: How::Leaked, litres: Litres(litres), from: slope.since, to: at });
                self.slope = Some(slope);
            }
            (Some(slope), Some(before)) => self.slope = Some(Slope { since: before.since, ..slope }),
            (None, Some(_)) if self.steady.is_still(TIGHT_MM.max(self.settled.scatter())) => {
                // What leaked before is told; it must not be found again.
                self.slope = None;
                self.steady.forget_all_but_an_hour();
            }
            (None, _) => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::book::{Gauge, Shape};

    const MINUTE: u64 = 60_000;

    /// A straight bucket of 300 mm whose sensor looks down from 400 mm over its bottom: one litre is 16.24 mm.
    fn bucket() -> Bucket {
        let (across, height) = (Millimetres(280.0), Millimetres(300.0));
        let gauge = Gauge::Down { to_bottom: Millimetres(400.0) };
        Bucket::new(Vessel { shape: Shape::Round { bottom: across, top: across, height }, gauge })
    }

    /// Tells heights, one each so many minutes, with a scatter that a live sensor has; says what came and went, sips left out.
    fn tell(bucket: &mut Bucket, every: u64, heights: impl IntoIterator<Item = f64>) -> Vec<String> {
        let mut told = Vec::new();
        let begins = bucket.measured.map_or(0, |at| at.0 / MINUTE + every);
        for (n, height) in (0_u64..).zip(heights) {
            let scatter = [0.0, 1.0, -1.0, 2.0, -2.0, 0.0, 1.0][(n * 5 % 7) as usize];
            let reading = Millimetres(400.0 - height - scatter);
            let flows = bucket.take(reading, Mono((begins + n * every) * MINUTE), Some(every * MINUTE));
            for flow in flows.unwrap_or_default().into_iter().filter(|flow| flow.how != How::Sipped) {
                told.push(format!("{:?} {:.0}", flow.how, flow.litres));
            }
        }
        told
    }

    fn rests(height: f64, readings: usize) -> impl Iterator<Item = f64> {
        std::iter::repeat_n(height, readings)
    }

    #[test]
    fn drinks_refills_and_spills_are_told_apart() {
        let mut one = bucket();
        let day = rests(280.0, 10).chain(rests(215.0, 20)).chain(rests(290.0, 20)).chain(rests(20.0, 5));
        assert_eq!(tell(&mut one, 1, day), ["Drank 4 L", "Refilled 5 L", "Spilled 17 L"]);
        // Ten litres in ten minutes a horse can drink; in one it can not.
        assert_eq!(tell(&mut bucket(), 10, rests(280.0, 10).chain(rests(75.0, 4))), ["Drank 13 L"]);
        assert_eq!(tell(&mut bucket(), 1, rests(280.0, 10).chain(rests(75.0, 4))), ["Spilled 13 L"]);
    }

    #[test]
    fn what_stands_before_the_sensor_for_minutes_is_no_refill() {
        let mut one = bucket();
        let day = rests(200.0, 10).chain(rests(260.0, 6)).chain(rests(200.0, 10));
        assert_eq!(tell(&mut one, 1, day), ["Refilled 4 L", "NotRefilled 4 L"]);
    }

    #[test]
    fn litres_of_a_day_are_no_sum_of_errors() {
        let mut one = bucket();
        let mut drunk = 0.0;
        let day = rests(290.0, 60).chain(rests(230.0, 90)).chain(rests(222.0, 70)).chain(rests(150.0, 400)).enumerate();
        for (n, height) in day {
            let scatter = f64::from((n * 7 % 9) as u32) - 4.0;
            let at = Mono(n as u64 * MINUTE);
            let flows = one.take(Millimetres(400.0 - height - scatter), at, Some(MINUTE)).expect("it can be");
            drunk += flows.iter().map(|flow| flow.litres.get()).sum::<f64>();
        }
        // The first reading stands for itself: it may be off by its scatter of 4 mm, a quarter of a litre.
        assert!((drunk - 140.0 / 16.24).abs() < 0.26, "{drunk:.2} L, not {:.2}", 140.0 / 16.24);
    }

    #[test]
    fn a_leak_is_told_by_its_litres_an_hour() {
        let mut one = bucket();
        tell(&mut one, 1, (0..150).map(|minute| 280.0 - 0.4 * f64::from(minute)));
        let (litres, _) = one.leak().expect("24 mm an hour");
        assert!((litres.get() - 24.0 / 16.24).abs() < 0.15, "{litres}");
        assert_eq!(one.fault(), None);
        tell(&mut one, 1, rests(220.0, 90));
        assert_eq!(one.leak(), None, "an hour later it is tight");
        for _ in 0..20 {
            tell(&mut one, 1, rests(220.0, 10));
            assert_eq!(one.leak(), None, "and what leaked before is not found again");
        }
    }

    #[test]
    fn water_that_rises_by_itself_is_a_sensor_that_drifts() {
        let mut one = bucket();
        tell(&mut one, 1, (0..150).map(|minute| 150.0 + 0.4 * f64::from(minute)));
        assert_eq!(one.fault().map(|(fault, _)| fault), Some(Fault::Drifting));
    }

    #[test]
    fn faults_have_names() {
        let named = |bucket: &Bucket| bucket.fault().map(|(fault, _)| fault);
        let mut one = bucket();
        tell(&mut one, 1, rests(200.0, 30));
        tell(&mut one, 1, rests(380.0, 2));
        assert_eq!(named(&one), None, "two may be a head in the beam");
        tell(&mut one, 1, rests(380.0, 1));
        assert_eq!(named(&one), Some(Fault::Blocked));
        let level = one.level().expect("what was known is kept");
        assert!((level.height.get() - 200.0).abs() < 2.0);
        tell(&mut one, 1, rests(200.0, 7));
        assert_eq!(named(&one), None);
        tell(&mut one, 1, rests(-400.0, 3));
        assert_eq!(named(&one), Some(Fault::TurnedAway));
        // The same to the last digit for two hours, of a sensor that never did so before.
        let mut one = bucket();
        tell(&mut one, 1, rests(200.0, 400));
        let begins = one.measured.map_or(0, |at| at.0);
        for minute in 1..120 {
            one.take(Millimetres(200.0), Mono(begins + minute * MINUTE), Some(MINUTE)).expect("it can be");
        }
        assert_eq!(named(&one), Some(Fault::Stuck));
        tell(&mut one, 1, rests(200.0, 3));
        assert_eq!(named(&one), None);
    }

    #[test]
    fn what_can_not_be_at_first_is_a_fault_at_once() {
        let mut one = bucket();
        assert!(one.take(Millimetres(2_000.0), Mono(5), None).is_err());
        assert_eq!(one.fault(), Some((Fault::TurnedAway, Mono(5))));
        assert_eq!(one.level(), None);
        one.take(Millimetres(200.0), Mono(6), None).expect("it can be");
        assert_eq!(one.fault(), None);
    }

    #[test]
    fn a_refill_that_ends_short_of_the_mark_tells_of_a_drink_that_nobody_saw() {
        let mut one = bucket();
        for _ in 0..8 {
            tell(&mut one, 10, rests(120.0, 6).chain(rests(290.0, 6)));
        }
        let told = tell(&mut one, 10, rests(120.0, 6).chain(rests(220.0, 6)));
        assert_eq!(told, ["Drank 10 L", "Refilled 6 L", "Unseen 4 L"]);
    }

    #[test]
    fn a_word_that_came_twice_counts_once() {
        let mut one = bucket();
        tell(&mut one, 1, rests(200.0, 10));
        let at = one.measured.map_or(0, |at| at.0) + MINUTE;
        for late in [0, 5_000, 9_000] {
            let flows = one.take(Millimetres(120.0), Mono(at + late), Some(MINUTE)).expect("it can be");
            assert!(flows.is_empty(), "one reading is no refill");
        }
    }
}
