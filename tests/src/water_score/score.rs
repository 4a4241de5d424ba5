//! What the barn said beside what was true.
//!
//! What no sensor could tell is not asked: two drinks with fewer than two readings between them are one, and a drink that
//! falls together with a refill is no drink to be found, though its litres count. Days on which the sensor was faulty,
//! or not heard for an hour, say nothing of how well litres are told.

use bellmare_barn::board::AlarmWhat;
use bellmare_barn::limits::Limits;
use bellmare_barn::water::bucket::{Fault as Named, How};

use super::feed::Told;
use crate::water_world::{Fault, Record, Span, StallOfWorld};

/// A faulty sensor should be named within so many seconds.
const NAMED_WITHIN: f64 = 7_200.0;
const DAY: f64 = 86_400.0;

/// What was counted.
#[derive(Clone, Default, Debug)]
pub struct Counts {
    /// All stall-days.
    pub stall_days: u32,
    /// Error of the litres of each healthy stall-day, as a share of what was drunk: where a sensor speaks every minute,
    pub litres: Vec<f64>,
    /// and where it speaks once in ten.
    pub litres_slow: Vec<f64>,
    /// Refills, found, and said though there was none.
    pub refills: (u32, u32, u32),
    /// Drinks of a litre or more, found, and said though there was none.
    pub drinks: (u32, u32, u32),
    /// Drinks that no sensor could tell from a refill.
    pub masked: u32,
    /// Times that water was gone and not refilled, and alarms of these.
    pub empties: (u32, u32),
    /// Those that no alarm told, from when to when in seconds.
    pub missed: Vec<(f64, f64)>,
    /// How many reading intervals after its time each of these alarms came.
    pub late: Vec<f64>,
    /// False alarms while the sensor was healthy, by what they said.
    pub false_alarms: Vec<(String, f64)>,
    /// Stall-days of healthy sensors.
    pub healthy_days: f64,
    /// Each fault, whether it was named within two hours, and the minutes it took.
    pub faults: Vec<(Fault, bool, f64)>,
    /// Leaks of an hour or more and a litre or more, and those that were told.
    pub leaks: (u32, u32),
    /// Horses that would not drink for longer than the limit, and those that were told.
    pub refusals: (u32, u32),
    /// Nights of ice of four hours or more in a stall, and those that were told.
    pub ice: (u32, u32),
    /// Answers to when it will be empty: asked, and how many held the truth between earliest and latest.
    pub dry: (u32, u32),
    /// How far the middle answer lay from the truth, in minutes.
    pub dry_off: Vec<f64>,
}

/// Counts what was said of a stall.
pub fn score(stall: &StallOfWorld, told: &Told, record: &Record, limits: &Limits, counts: &mut Counts) {
    let one = One { told, record, limits, every: stall.gauges[0].every };
    counts.stall_days += told.days.len() as u32;
    one.litres(counts);
    one.refills(counts);
    one.drinks(counts);
    one.empties(counts);
    one.faults(counts);
    one.false_alarms(counts);
    one.others(counts);
    one.dry(counts);
}

struct One<'a> {
    told: &'a Told,
    record: &'a Record,
    limits: &'a Limits,
    every: f64,
}

impl One<'_> {
    /// Nothing can be seen sharper than this, in seconds.
    fn blur(&self) -> f64 {
        2.5 * self.every + 60.0
    }

    /// Whether a stretch of time had a healthy sensor that was heard; what a fault leaves behind counts for `after` seconds.
    fn healthy(&self, from: f64, to: f64, after: f64) -> bool {
        let troubled = self
            .record
            .troubles
            .iter()
            .any(|one| one.fault != Fault::Battery && one.from < to && one.to + after > from);
        let unheard =
            self.record.outages.iter().any(|one| one.to - one.from > 3_600.0 && one.from < to && one.to + after > from);
        !troubled && !unheard
    }

    fn litres(&self, counts: &mut Counts) {
        for (day, said) in self.told.days.iter().enumerate() {
            let (from, to) = (day as f64 * DAY, (day + 1) as f64 * DAY);
            if !self.healthy(from, to, 0.0) {
                continue;
            }
            counts.healthy_days += 1.0;
            let drunk: f64 =
                self.record.drinks.iter().filter(|drink| drink.from >= from && drink.from < to).map(|d| d.litres).sum();
            if drunk > 1.0 {
                let off = if self.every > 150.0 { &mut counts.litres_slow } else { &mut counts.litres };
                off.push((said - drunk).abs() / drunk);
            }
        }
    }

    fn said(&self, how: How) -> impl Iterator<Item = Span> {
        let of = self.told.happened.iter().filter(move |one| one.0 == how);
        of.map(|(_, from, to, litres)| Span { from: *from, to: *to, litres: *litres })
    }

    fn near(&self, one: &Span, other: &Span) -> bool {
        one.from <= other.to + self.blur() && other.from <= one.to + self.blur()
    }

    fn refills(&self, counts: &mut Counts) {
        for refill in &self.record.refills {
            if self.healthy(refill.from - self.blur(), refill.to + self.blur(), self.blur()) {
                counts.refills.0 += 1;
                counts.refills.1 += u32::from(self.said(How::Refilled).any(|said| self.near(&said, refill)));
            }
        }
        for said in self.said(How::Refilled) {
            let healthy = self.healthy(said.from, said.to, 3_600.0);
            if healthy && !self.record.refills.iter().any(|refill| self.near(&said, refill)) {
                counts.refills.2 += 1;
            }
        }
    }

    fn drinks(&self, counts: &mut Counts) {
        let mut drinks: Vec<Span> = Vec::new();
        for drink in &self.record.drinks {
            match drinks.last_mut() {
                Some(last) if drink.from - last.to < self.blur() => {
                    last.to = drink.to;
                    last.litres += drink.litres;
                }
                _ => drinks.push(*drink),
            }
        }
        let with_refill = |drink: &Span| {
            let others = self.record.refills.iter().chain(&self.record.spills);
            others.into_iter().any(|refill| self.near(drink, refill))
        };
        for drink in drinks.iter().filter(|drink| drink.litres >= 1.0) {
            if with_refill(drink) {
                counts.masked += 1;
            } else if self.healthy(drink.from - self.blur(), drink.to + self.blur(), self.blur()) {
                counts.drinks.0 += 1;
                counts.drinks.1 += u32::from(self.said(How::Drank).any(|said| self.near(&said, drink)));
            }
        }
        for said in self.said(How::Drank).filter(|said| said.litres >= 1.0) {
            let healthy = self.healthy(said.from, said.to, 3_600.0);
            let spilled = self.record.spills.iter().any(|spill| self.near(&said, spill));
            if healthy && !spilled && !self.record.drinks.iter().any(|drink| self.near(&said, drink)) {
                counts.drinks.2 += 1;
            }
        }
    }

    /// Water is gone where two points less than the limit are left, six millimetres in these buckets: closer to it the sensor itself
    /// can not tell, twice whose scatter that is.
    fn empties(&self, counts: &mut Counts) {
        let empty = (self.limits.water.empty.get() - 2.0) / 100.0;
        let set = f64::from(self.limits.water.empty_alarm_after.0);
        let mut minute = 0;
        while minute < self.record.share.len() {
            if f64::from(self.record.share[minute]) > empty {
                minute += 1;
                continue;
            }
            let from = minute;
            while minute < self.record.share.len() && f64::from(self.record.share[minute]) <= empty {
                minute += 1;
            }
            let lasted = (minute - from) as f64;
            let (began, ended) = (from as f64 * 60.0, minute as f64 * 60.0);
            let patience = set + 2.0 * self.every / 60.0 + 1.0;
            // A word may be on its way while somebody is already filling.
            let heard = !self.record.outages.iter().any(|one| one.from < ended && one.to > began);
            if lasted <= patience || !self.healthy(began - 3_600.0, began + patience * 60.0, 3_600.0) || !heard {
                continue;
            }
            counts.empties.0 += 1;
            // Low water may have been empty by the sensor's measure before: an alarm since the last refill stands.
            let filled =
                self.record.refills.iter().map(|refill| refill.to).filter(|to| *to < began).fold(0.0, f64::max);
            let alarm = self.told.raised.iter().find(|(at, what)| {
                matches!(what, AlarmWhat::BucketEmpty { .. }) && *at > filled && *at <= ended + self.blur()
            });
            if let Some((at, _)) = alarm {
                counts.empties.1 += 1;
                counts.late.push(((at - began - set * 60.0) / self.every).max(0.0));
            } else {
                counts.missed.push((began, ended));
            }
        }
    }

    fn faults(&self, counts: &mut Counts) {
        for trouble in &self.record.troubles {
            let heard =
                !self.record.outages.iter().any(|one| one.from < trouble.from + NAMED_WITHIN && one.to > trouble.from);
            let frozen = self.record.frozen.iter().any(|one| one.from < trouble.to && one.to > trouble.from);
            if !heard || (frozen && trouble.fault == Fault::Stuck) {
                continue;
            }
            let names = |what: &AlarmWhat| match (trouble.fault, what) {
                (Fault::Stuck, AlarmWhat::SensorFaulty { fault, .. }) => *fault == Named::Stuck,
                (Fault::DriftsUp, AlarmWhat::SensorFaulty { fault, .. }) => *fault == Named::Drifting,
                // Of water that falls steadily it is said that it leaks or its sensor drifts.
                (Fault::DriftsDown, AlarmWhat::Leak { .. }) => true,
                (Fault::Blocked, AlarmWhat::SensorFaulty { fault, .. }) => *fault == Named::Blocked,
                (Fault::TurnedAway, AlarmWhat::SensorFaulty { fault, .. }) => *fault == Named::TurnedAway,
                (Fault::Silent, AlarmWhat::SensorSilent { .. }) => true,
                (Fault::Battery, AlarmWhat::BatteryLow { .. }) => true,
                _ => false,
            };
            let named = self
                .told
                .raised
                .iter()
                .find(|(at, what)| (trouble.from..trouble.to + 600.0).contains(at) && names(what));
            let after = named.map_or(f64::INFINITY, |(at, _)| at - trouble.from);
            counts.faults.push((trouble.fault, after <= NAMED_WITHIN, after / 60.0));
        }
    }

    fn false_alarms(&self, counts: &mut Counts) {
        for (at, what) in &self.told.raised {
            let at = *at;
            if !self.healthy(at - DAY, at, 0.0) {
                continue;
            }
            let share = |at: f64| f64::from(*self.record.share.get((at / 60.0) as usize).unwrap_or(&1.0));
            let limits = &self.limits.water;
            let under = |percent: f64| (0..30).any(|back| share(at - 60.0 * f64::from(back)) <= percent / 100.0);
            let during = |spans: &[Span], after: f64| spans.iter().any(|one| one.from <= at && at <= one.to + after);
            let truth = match what {
                AlarmWhat::BucketEmpty { .. } => under(limits.empty.get() + 1.5),
                AlarmWhat::BucketLow { .. } => under(limits.low.get() + 2.0),
                AlarmWhat::SensorSilent { .. } => during(&self.record.outages, 600.0),
                AlarmWhat::BatteryLow { .. } => self
                    .record
                    .troubles
                    .iter()
                    .any(|one| one.fault == Fault::Battery && one.from <= at && at <= one.to + 3_600.0),
                AlarmWhat::Leak { .. } => during(&self.record.leaks, 3_600.0),
                // Water that is about to freeze is worth a look too.
                AlarmWhat::Ice { .. } => {
                    self.record.frozen.iter().any(|ice| ice.from - 3_600.0 <= at && at <= ice.to + 1_800.0)
                }
                // That it drank a moment ago no reading has told yet.
                AlarmWhat::NotDrinking { .. } => {
                    self.dry_min(at - 2.0 * self.blur()) >= f64::from(limits.not_drinking_after.0) * 0.95
                }
                AlarmWhat::DrinksLittle { .. } => {
                    let read = at - 2.0 * self.blur();
                    self.drunk(read - DAY, read) < self.usual() * (limits.drinks_little.get() + 10.0) / 100.0
                }
                _ => false,
            };
            if !truth {
                counts.false_alarms.push((format!("{what:?}"), at));
            }
        }
    }

    fn others(&self, counts: &mut Counts) {
        let told = |from: f64, to: f64, is: &dyn Fn(&AlarmWhat) -> bool| {
            u32::from(self.told.raised.iter().any(|(at, what)| (from..to).contains(at) && is(what)))
        };
        for leak in &self.record.leaks {
            if leak.to - leak.from >= 3_600.0 && leak.litres >= 1.0 && self.healthy(leak.from, leak.to, 3_600.0) {
                counts.leaks.0 += 1;
                counts.leaks.1 += told(leak.from, leak.to + 1_800.0, &|what| matches!(what, AlarmWhat::Leak { .. }));
            }
        }
        let limit = f64::from(self.limits.water.not_drinking_at_most.0) + 15.0;
        for refuses in &self.record.refuses {
            if !self.healthy(refuses.from - 3_600.0, refuses.to, 3_600.0) || self.dry_min(refuses.to) < limit {
                continue;
            }
            counts.refusals.0 += 1;
            let is = |what: &AlarmWhat| matches!(what, AlarmWhat::NotDrinking { .. } | AlarmWhat::DrinksLittle { .. });
            counts.refusals.1 += told(refuses.from, refuses.to + 600.0, &is);
        }
        for ice in self.record.frozen.iter().filter(|ice| ice.to - ice.from >= 4.0 * 3_600.0) {
            if self.healthy(ice.from, ice.to, 3_600.0) {
                counts.ice.0 += 1;
                counts.ice.1 += told(ice.from, ice.to + 1_800.0, &|what| matches!(what, AlarmWhat::Ice { .. }));
            }
        }
    }

    fn dry(&self, counts: &mut Counts) {
        for (at, litres, [earliest, usual, latest]) in &self.told.dry {
            if !self.healthy(at - 3_600.0, at + DAY, 0.0)
                || self.record.refuses.iter().any(|one| one.from < at + DAY && one.to > *at)
            {
                continue;
            }
            // Had nobody filled it: when so many litres had been drunk.
            let mut left = *litres;
            let gone = self.record.drinks.iter().filter(|drink| drink.from >= *at).find(|drink| {
                left -= drink.litres;
                left <= 0.0
            });
            let truth = gone.map(|drink| (drink.to - at) / 60.0).filter(|minutes| *minutes < 1_440.0);
            let low = earliest.map_or(f64::MAX, f64::from);
            let high = latest.map_or(f64::MAX, f64::from);
            let holds = truth.map_or(latest.is_none(), |truth| low - 60.0 <= truth && truth <= high + 60.0);
            counts.dry.0 += 1;
            counts.dry.1 += u32::from(holds);
            if let (Some(truth), Some(usual)) = (truth, usual) {
                counts.dry_off.push((truth - f64::from(*usual)).abs());
            }
        }
    }

    fn drunk(&self, from: f64, to: f64) -> f64 {
        self.record.drinks.iter().filter(|drink| drink.from >= from && drink.from < to).map(|drink| drink.litres).sum()
    }

    fn usual(&self) -> f64 {
        let days = self.told.days.len() as f64;
        self.record.drinks.iter().map(|drink| drink.litres).sum::<f64>() / days
    }

    /// Minutes that the horse was in its stall before a time since it last drank, sips that add up to more than a little
    /// counted as a drink.
    fn dry_min(&self, at: f64) -> f64 {
        let (mut last, mut sipped) = (0.0, 0.0);
        for drink in self.record.drinks.iter().take_while(|drink| drink.from < at) {
            sipped += drink.litres;
            if sipped >= 0.6 {
                (last, sipped) = (drink.to, 0.0);
            }
        }
        let (from, to) = ((last / 60.0) as usize, (at / 60.0) as usize);
        self.record.within.iter().take(to).skip(from).filter(|within| **within).count() as f64
    }
}
