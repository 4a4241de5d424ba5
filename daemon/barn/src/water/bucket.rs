//! One vessel and its sensor: how much is in it, what was drunk, poured in or lost, and whether its sensor can be believed.
//! Joins [`Settled`], [`Leak`], [`FillMark`] and [`Repeats`]; knows no horse, no alarm and no other bucket.
//!
//! Every change of the litres is told once, as a [`Flow`]. A step down is a drink, or a spill where no horse drinks so fast or
//! so much; a step up is a refill; what changes between two steps is a sip, or a leak where it is steady. Together they
//! are the litres that were there less those that are there now, so that what was drunk in a day is no sum of errors.

use serde::{Deserialize, Serialize};

use super::drink;
use super::leak::{Fell, Leak};
use super::mark::FillMark;
use super::settle::{Change, OFTEN_MS, Settled};
use super::stuck::Repeats;
use super::vessel::{self, Level, Refused};
use crate::book::Vessel;
use crate::time::Mono;
use crate::units::{Litres, Millimetres};

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
/// Open water in a barn's air goes down by some three millimetres in a day that nobody drinks; from memory.
const EVAPORATES_MM: f64 = 3.0;
const DAY_MS: f64 = 86_400_000.0;
/// Sips are told once they add up to this, in litres: telling each reading's scatter would be a waste.
const TOLD_FROM: f64 = 0.05;

/// A bucket and what is known of it.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Bucket {
    vessel: Vessel,
    settled: Settled,
    leak: Leak,
    repeats: Repeats,
    /// When the last reading that counts was measured.
    measured: Option<Mono>,
    /// Which of the last twelve readings were too high, and which too low: a bit each, the newest lowest.
    too_high: u16,
    too_low: u16,
    wrong: Option<(Fault, Mono)>,
    stuck: Option<Mono>,
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
    /// When it began at the earliest and at the latest.
    pub began: (Mono, Mono),
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
    /// Drunk together with a refill: told by the mark to which the bucket is filled, or by a single reading between the two.
    Unseen,
}

impl Bucket {
    /// A bucket of which nothing is known yet.
    pub fn new(vessel: Vessel) -> Self {
        Self {
            vessel,
            settled: Settled::default(),
            leak: Leak::default(),
            repeats: Repeats::default(),
            measured: None,
            too_high: 0,
            too_low: 0,
            wrong: None,
            stuck: None,
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
        self.evaporates(at);
        self.measured = Some(at);
        self.repeats.take(reading.get(), at.0);
        self.stuck = self.repeats.is_stuck(at.0).then(|| self.stuck.unwrap_or(at));
        let mut flows = Vec::new();
        let new = self.settled.is_new();
        let changes = self.settled.take(height, at, gap);
        if new {
            self.told = self.litres();
        } else if changes.is_empty() {
            self.seeped(self.litres(), TOLD_FROM, self.settled.stands_since(at, gap), &mut flows);
        }
        for change in drink::possible(&self.vessel, changes, gap, self.settled.scatter()) {
            self.changed(change, gap, &mut flows);
        }
        // A splash is no slope; but of a slow sensor each reading is needed.
        let slow = gap.is_some_and(|gap| gap > OFTEN_MS);
        if slow || !self.settled.is_unsettled() {
            for fell in self.leak.take(height, at, slow, self.settled.scatter()) {
                self.leaked(&fell, &mut flows);
            }
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
        let drifting =
            self.leak.slope().filter(|slope| slope.mm_per_hour > 0.0).map(|slope| (Fault::Drifting, slope.since));
        self.wrong.or(self.stuck.map(|since| (Fault::Stuck, since))).or(drifting)
    }

    /// The litres that it loses in an hour, and since when, where it leaks.
    pub fn leak(&self) -> Option<(Litres, Mono)> {
        let slope = self.leak.slope().filter(|slope| slope.mm_per_hour < 0.0)?;
        let height = self.settled.height();
        Some((Litres(self.holds(height - slope.mm_per_hour) - self.holds(height)), slope.since))
    }

    /// True where a radio said a word twice: the same reading, sooner than the sensor measures.
    fn is_repeat(&self, reading: Millimetres, at: Mono, gap: Option<u64>) -> bool {
        self.repeats.last() == Some(reading.get())
            && self.measured.zip(gap).is_some_and(|(last, gap)| at.since(last) < gap / 2)
    }

    fn litres(&self) -> f64 {
        self.level().map_or(0.0, |level| level.litres.get())
    }

    /// Litres that it holds when the water stands so high, in millimetres over the bottom.
    fn holds(&self, height: f64) -> f64 {
        vessel::at(&self.vessel, Millimetres(height)).litres.get()
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
        let before = self.holds(change.from);
        self.seeped(before, f64::MIN_POSITIVE, change.began, flows);
        self.told = self.holds(change.to);
        let rose = self.told - before;
        let spilled = drink::is_spill(&self.vessel, &change, gap);
        let began = drink::began(&self.vessel, &change, self.settled.scatter());
        let mut tell = |how, litres: f64| {
            flows.push(Flow { how, litres: Litres(litres), from: change.before, to: change.ended, began });
        };
        if change.sliding {
            return tell(How::Sipped, -rose);
        }
        if rose >= REFILL_AT_LEAST {
            tell(How::Refilled, rose);
            self.rise = Some(change);
            let mut unseen: Vec<_> = drink::perhaps(&self.vessel, &change, gap).into_iter().collect();
            let short = self.fills_to.filled(self.told, change.ended);
            if gap.is_some_and(|gap| gap > OFTEN_MS) {
                unseen.extend(short);
            }
            flows.extend(unseen.into_iter().map(|(at, litres)| Flow {
                how: How::Unseen,
                litres: Litres(litres),
                from: at,
                to: at,
                began: (at, at),
            }));
            return;
        }
        let mut fell = -rose;
        // What was filled to its mark was filled, however soon it is drunk.
        if let Some(rise) = self.rise.take().filter(|rise| !self.fills_to.is_full(self.holds(rise.to))) {
            let after = change.began.since(rise.ended);
            let back = (change.to - rise.from).abs() <= 2.0 * self.settled.scatter();
            if back && after <= PASSED_MS {
                tell(How::NotRefilled, self.holds(rise.to) - self.holds(rise.from));
                self.fills_to.not_filled();
                return;
            }
            // No horse drinks while the hand with the hose is still there: that was its head.
            if change.to < rise.from && after <= HEAD_MS {
                tell(How::NotRefilled, self.holds(rise.to) - self.holds(rise.from));
                self.fills_to.not_filled();
                fell = self.holds(rise.from) - self.told;
            }
        }
        if spilled {
            tell(How::Spilled, fell);
        } else if rose > 0.0 {
            tell(How::Sipped, fell);
        } else {
            tell(How::Drank, fell);
        }
    }

    /// What fell by itself was counted as sips and drinks when it was seen: it is taken out of them.
    fn leaked(&self, fell: &Fell, flows: &mut Vec<Flow>) {
        let Fell { from, to, millimetres } = *fell;
        let height = self.settled.height();
        // As much as it is about this height: the bucket may have been filled since.
        let gone = self.holds(height + millimetres / 2.0) - self.holds(height - millimetres / 2.0);
        let middle = from.plus(to.since(from) / 2);
        let began = (middle, middle);
        flows.push(Flow { how: How::Sipped, litres: Litres(-gone), from, to, began });
        flows.push(Flow { how: How::Leaked, litres: Litres(gone), from, to, began });
    }

    /// What went into the air since the last reading is told of nobody.
    fn evaporates(&mut self, at: Mono) {
        let Some(last) = self.measured.filter(|_| !self.settled.is_new()) else { return };
        let (height, fell) = (self.settled.height(), EVAPORATES_MM * at.since(last) as f64 / DAY_MS);
        self.told -= self.holds(height) - self.holds(height - fell);
    }

    /// The middle of the readings moved without a step, to so many litres; told once it is worth it.
    fn seeped(&mut self, to: f64, from: f64, at: Mono, flows: &mut Vec<Flow>) {
        let litres = self.told - to;
        if litres.abs() >= from {
            flows.push(Flow { how: How::Sipped, litres: Litres(litres), from: at, to: at, began: (at, at) });
            self.told = to;
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
            let height = height - EVAPORATES_MM * at.0 as f64 / DAY_MS;
            let flows = one.take(Millimetres(400.0 - height - scatter), at, Some(MINUTE)).expect("it can be");
            drunk += flows.iter().map(|flow| flow.litres.get()).sum::<f64>();
        }
        // The first reading stands for itself: it may be off by its scatter of 4 mm, a quarter of a litre.
        assert!((drunk - 140.0 / 16.24).abs() < 0.26, "{drunk:.2} L, not {:.2}", 140.0 / 16.24);
    }

    #[test]
    fn what_goes_into_the_air_was_not_drunk() {
        let mut one = bucket();
        let mut drunk = 0.0;
        for n in 0..5 * 144_u32 {
            let scatter = f64::from(n * 7 % 9) - 4.0;
            let at = Mono(u64::from(n) * 10 * MINUTE);
            let height = 250.0 - EVAPORATES_MM * at.0 as f64 / DAY_MS;
            let flows = one.take(Millimetres(400.0 - height - scatter), at, Some(10 * MINUTE)).expect("it can be");
            drunk += flows.iter().map(|flow| flow.litres.get()).sum::<f64>();
        }
        // In five days nearly a litre; of that less stays than the first reading is sure of.
        assert!(drunk.abs() < 0.26, "{drunk:.2} L");
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
    fn what_was_filled_to_its_mark_was_filled_however_soon_it_is_drunk() {
        let mut one = bucket();
        for _ in 0..6 {
            tell(&mut one, 1, rests(200.0, 20).chain(rests(290.0, 20)));
        }
        let told = tell(&mut one, 1, rests(230.0, 20).chain(rests(290.0, 6)).chain(rests(230.0, 20)));
        assert_eq!(told, ["Drank 4 L", "Refilled 4 L", "Drank 4 L"]);
    }

    #[test]
    fn what_leaks_is_taken_out_of_what_was_drunk() {
        let mut one = bucket();
        let (mut drunk, mut leaked) = (0.0, 0.0);
        // Eight hours at 1.5 L an hour, and every two hours a drink of 2 L; the hose before it is half empty.
        for minute in 0..480_u64 {
            let height = 290.0 - 0.4 * (minute % 240) as f64 - if minute % 240 < 120 { 0.0 } else { 32.0 };
            let scatter = [0.0, 1.0, -1.0, 2.0, -2.0, 0.0, 1.0][(minute * 5 % 7) as usize];
            let flows = one.take(Millimetres(400.0 - height - scatter), Mono(minute * MINUTE), Some(MINUTE));
            for flow in flows.expect("it can be") {
                match flow.how {
                    How::Drank | How::Sipped => drunk += flow.litres.get(),
                    How::Leaked => leaked += flow.litres.get(),
                    _ => {}
                }
            }
        }
        assert!((leaked - 480.0 * 0.4 / 16.24).abs() < 1.2, "{leaked:.1} L leaked");
        assert!((drunk - 4.0).abs() < 1.2, "{drunk:.1} L drunk");
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
