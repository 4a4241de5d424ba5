//! A stall: its horse, its buckets, the hand that fills them, and what befalls them. Lives second by second and writes down
//! what was true.

use super::horse::Ways;
use super::sensor::{Fault, Gauge, Kind, Message, Says, Sight, Trouble};
use super::vessel::{Solid, Walls};
use super::{Air, DAY};
use crate::dice::Dice;

/// The world goes on by so many seconds at a time.
const STEP: f64 = 5.0;
/// The hand comes at these hours; in the afternoon before those horses are back that were out.
const ROUNDS: [f64; 4] = [6.75, 11.5, 15.25, 20.5];
/// While somebody stands at a bucket with a hose, and until they have gone, no horse drinks from it, in seconds.
const HAND_BEFORE: f64 = 90.0;
const HAND_AFTER: f64 = 150.0;
/// Share of the bucket under which the hand fills it.
const FILLS_UNDER: f64 = 0.75;
/// Litres a minute out of the hose.
const HOSE: f64 = 16.0;

/// A stall before it lives.
#[derive(Clone)]
pub struct StallOfWorld {
    /// Its buckets.
    pub buckets: Vec<Solid>,
    /// Their sensors.
    pub gauges: Vec<Gauge>,
    /// Its horse.
    pub ways: Ways,
    /// Hours at which its horse is out every day.
    pub out: Option<(f64, f64)>,
    /// How often something befalls it, as a share of what is usual in a world that is made to try the hub.
    pub mishaps: f64,
    dice: Dice,
    days: u32,
}

/// Something that lasted, and its litres.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Span {
    /// When it began, in seconds.
    pub from: f64,
    /// When it was over.
    pub to: f64,
    /// Litres drunk, poured in or lost.
    pub litres: f64,
}

/// What was true in a stall.
#[derive(Clone, Default, Debug)]
pub struct Record {
    /// Drinks.
    pub drinks: Vec<Span>,
    /// Refills, a bucket each.
    pub refills: Vec<Span>,
    /// Buckets that were kicked over.
    pub spills: Vec<Span>,
    /// Leaks, until somebody mended them.
    pub leaks: Vec<Span>,
    /// When the water was frozen.
    pub frozen: Vec<Span>,
    /// When the horse would not drink.
    pub refuses: Vec<Span>,
    /// What its first sensor suffered.
    pub troubles: Vec<Trouble>,
    /// When no word of its sensors came through.
    pub outages: Vec<Span>,
    /// Share of what all its buckets hold, 0 to 1, minute by minute.
    pub share: Vec<f32>,
    /// Whether the horse was in, minute by minute.
    pub within: Vec<bool>,
}

impl StallOfWorld {
    pub(super) fn new(n: usize, days: u32, dice: &mut Dice) -> Self {
        let walls = [
            Walls::Round(260.0, 300.0, 305.0),
            Walls::FlatBack(270.0, 310.0, 330.0, 265.0),
            Walls::Round(255.0, 290.0, 320.0),
            Walls::Box(450.0, 330.0, 300.0),
        ][n % 4];
        let kind = [Kind::Ultrasonic, Kind::Light, Kind::Pressure, Kind::Ultrasonic, Kind::Coarse][n % 5];
        // Of ten, two speak but once in ten minutes; nobody builds those with coarse steps.
        let every = if matches!(n % 10, 3 | 6) { 600.0 } else { 60.0 };
        let count = if n % 10 == 5 { 2 } else { 1 };
        let buckets: Vec<Solid> = (0..count).map(|_| Solid::new(walls)).collect();
        let gauges = buckets.iter().map(|_| Gauge::new(kind, every, walls.height(), dice)).collect();
        let out = n.is_multiple_of(3).then_some((13.0, 16.0));
        Self { buckets, gauges, ways: Ways::new(dice), out, mishaps: 1.0, dice: Dice::new(dice.roll()), days }
    }

    /// True where its horse is out at a time.
    fn is_out(&self, time: f64) -> bool {
        let hour = (time / DAY).fract() * 24.0;
        self.out.is_some_and(|(from, to)| (from..to).contains(&hour))
    }

    pub(super) fn live(&self, air: &Air, days: u32) -> (Vec<Message>, Record) {
        let mut life = Life::new(self, air);
        let end = f64::from(days) * DAY;
        let mut time = 0.0;
        while time < end {
            life.pass(time);
            time += STEP;
        }
        life.record.leaks.extend(life.leak.take().map(|(span, _)| span));
        life.record.frozen.extend(life.ice.take().map(|from| Span { from, to: end, litres: 0.0 }));
        life.messages.sort_by(|a, b| a.arrives.total_cmp(&b.arrives));
        (life.messages, life.record)
    }
}

/// A stall while it lives.
struct Life<'a> {
    stall: &'a StallOfWorld,
    air: &'a Air,
    dice: Dice,
    gauges: Vec<Gauge>,
    litres: Vec<f64>,
    /// When each sensor speaks next, and tells its battery.
    speaks: Vec<f64>,
    battery: f64,
    /// The bucket that is drunk from, how many litres are still to be, and what was.
    drinking: Option<(usize, f64, Span)>,
    last_drink: f64,
    /// Litres that it would drink now.
    thirst: f64,
    pouring: Vec<Option<(f64, Span)>>,
    slops_until: Vec<f64>,
    rounds: Vec<f64>,
    /// Minutes for which it has been colder than the ice needs, and whether it is there.
    cold_s: f64,
    ice: Option<f64>,
    leak: Option<(Span, f64)>,
    plans: Plans,
    record: Record,
    messages: Vec<Message>,
}

/// What is going to befall a stall.
struct Plans {
    leaks: Vec<(f64, f64, f64)>,
    spills: Vec<f64>,
    thirst: Vec<f64>,
}

impl<'a> Life<'a> {
    fn new(stall: &'a StallOfWorld, air: &'a Air) -> Self {
        let mut dice = stall.dice.clone();
        let (days, mishaps) = (stall.days, stall.mishaps);
        let (mut leaks, mut spills, mut record, mut rounds) = (Vec::new(), Vec::new(), Record::default(), Vec::new());
        let mut turn = dice.under(Fault::ALL.len());
        for day in 0..days {
            let start = f64::from(day) * DAY;
            let any = |dice: &mut Dice| start + dice.within(0.0..DAY);
            let forgotten = dice.happens(0.015 * mishaps);
            for hour in ROUNDS {
                let comes = start + (hour + dice.normal(0.25)) * 3600.0;
                if !forgotten && !dice.happens(0.04 * mishaps) {
                    rounds.push(comes);
                }
            }
            if dice.happens(0.025 * mishaps) {
                let from = any(&mut dice);
                leaks.push((from, from + dice.within(5.0..14.0) * 3600.0, dice.within(0.5..3.5)));
            }
            if dice.happens(0.03 * mishaps) {
                spills.push(any(&mut dice));
            }
            if dice.happens(0.02 * mishaps) {
                let from = any(&mut dice);
                record.refuses.push(Span { from, to: from + dice.within(15.0..28.0) * 3600.0, litres: 0.0 });
            }
            if dice.happens(0.04 * mishaps) {
                let from = any(&mut dice);
                record.outages.push(Span { from, to: from + dice.within(600.0..9_000.0), litres: 0.0 });
            }
            // Nobody knows a sensor on its first day.
            if day > 0 && dice.happens(0.22 * mishaps) {
                let from = any(&mut dice);
                let free = record.troubles.last().is_none_or(|before: &Trouble| from > before.to + 6.0 * 3600.0);
                let fault = Fault::ALL[turn % Fault::ALL.len()];
                let way = if fault == Fault::DriftsDown { -1.0 } else { 1.0 };
                let per_hour = way * dice.within(12.0..30.0);
                if free {
                    turn += 1;
                    let to = from + dice.within(2.5..7.0) * 3600.0;
                    record.troubles.push(Trouble { fault, from, to, per_hour });
                }
            }
        }
        let thirst = (0..=days).map(|_| dice.normal(0.1).exp()).collect();
        let gauges = stall.gauges.clone();
        let speaks = gauges.iter().map(|gauge| dice.within(0.0..gauge.every)).collect();
        Self {
            stall,
            air,
            litres: stall.buckets.iter().map(|bucket| bucket.full() * dice.within(0.6..0.95)).collect(),
            speaks,
            battery: dice.within(40.0..95.0),
            drinking: None,
            last_drink: -dice.within(0.0..7_200.0),
            thirst: dice.within(0.0..3.0),
            pouring: stall.buckets.iter().map(|_| None).collect(),
            slops_until: vec![0.0; stall.buckets.len()],
            rounds,
            cold_s: 0.0,
            ice: None,
            leak: None,
            plans: Plans { leaks, spills, thirst },
            record,
            messages: Vec::new(),
            gauges,
            dice,
        }
    }

    fn pass(&mut self, time: f64) {
        self.freeze(time);
        self.lose(time);
        self.pour(time);
        self.drink(time);
        if time % 60.0 < STEP {
            let full: f64 = self.stall.buckets.iter().map(Solid::full).sum();
            self.record.share.push((self.litres.iter().sum::<f64>() / full) as f32);
            self.record.within.push(!self.stall.is_out(time));
        }
        for bucket in 0..self.gauges.len() {
            if time >= self.speaks[bucket] {
                self.speak(bucket, time);
            }
        }
    }

    /// After two hours under a degree of frost there is ice, until it has been over zero for an hour.
    fn freeze(&mut self, time: f64) {
        let celsius = self.air.celsius(time);
        if celsius < -1.0 {
            self.cold_s = (self.cold_s + STEP).min(2.0 * 3600.0);
        } else if celsius > 0.5 {
            self.cold_s = (self.cold_s - 2.0 * STEP).max(0.0);
        }
        match self.ice {
            None if self.cold_s >= 2.0 * 3600.0 => self.ice = Some(time),
            Some(from) if self.cold_s == 0.0 => {
                self.record.frozen.push(Span { from, to: time, litres: 0.0 });
                self.ice = None;
            }
            _ => {}
        }
    }

    /// What evaporates, leaks out and is kicked over.
    fn lose(&mut self, time: f64) {
        if self.ice.is_some() {
            return;
        }
        for (litres, bucket) in self.litres.iter_mut().zip(&self.stall.buckets) {
            // Some four millimetres a day in moving air of a barn; from memory.
            *litres = (*litres - bucket.surface(*litres) * 4.0 * STEP / DAY).max(0.0);
        }
        if let Some((from, to, litres_per_hour)) = self.plans.leaks.first().copied()
            && time >= from
        {
            self.plans.leaks.remove(0);
            self.record.leaks.extend(self.leak.take().map(|(span, _)| span));
            self.leak = Some((Span { from, to, litres: 0.0 }, litres_per_hour));
        }
        if let Some((span, litres_per_hour)) = &mut self.leak {
            // A hole at the bottom: the flow goes with the root of the height (Torricelli).
            let bucket = &self.stall.buckets[0];
            let head = bucket.height(self.litres[0]) / bucket.walls.height();
            let gone = (*litres_per_hour * head.sqrt() * STEP / 3600.0).min(self.litres[0]);
            self.litres[0] -= gone;
            span.litres += gone;
            if time >= span.to {
                self.record.leaks.extend(self.leak.take().map(|(span, _)| span));
            }
        }
        if self.plans.spills.first().is_some_and(|at| time >= *at) {
            self.plans.spills.remove(0);
            let gone = self.litres[0] * self.dice.within(0.4..1.0);
            self.litres[0] -= gone;
            self.slops_until[0] = time + 30.0;
            self.record.spills.push(Span { from: time, to: time + STEP, litres: gone });
        }
    }

    fn pour(&mut self, time: f64) {
        if self.rounds.first().is_some_and(|at| time >= *at) {
            self.rounds.remove(0);
            for (bucket, solid) in self.stall.buckets.iter().enumerate() {
                if self.ice.is_none() && self.litres[bucket] < FILLS_UNDER * solid.full() {
                    let to = solid.full() * self.dice.within(0.93..1.0);
                    self.pouring[bucket] = Some((to, Span { from: time, to: time, litres: 0.0 }));
                }
            }
        }
        for bucket in 0..self.pouring.len() {
            let Some((to, span)) = &mut self.pouring[bucket] else { continue };
            let poured = (HOSE * STEP / 60.0).min(*to - self.litres[bucket]);
            self.litres[bucket] += poured;
            span.litres += poured;
            span.to = time + STEP;
            self.slops_until[bucket] = time + 40.0;
            if self.litres[bucket] >= *to - 1e-6 {
                self.record.refills.push(*span);
                self.pouring[bucket] = None;
            }
        }
    }

    fn drink(&mut self, time: f64) {
        let warmth = 1.0 + ((self.air.celsius(time) - 20.0) / 25.0).max(0.0);
        let day = self.plans.thirst[(time / DAY) as usize];
        // What it misses it does not make up for without end.
        self.thirst = (self.thirst + day * warmth * self.stall.ways.thirst(time, STEP)).min(12.0);
        let within = |spans: &[Span]| spans.iter().any(|span| (span.from..span.to).contains(&time));
        if let Some((bucket, left, span)) = &mut self.drinking {
            let gulp = (self.stall.ways.litres_a_minute * STEP / 60.0).min(*left).min(self.litres[*bucket]);
            self.litres[*bucket] -= gulp;
            *left -= gulp;
            span.litres += gulp;
            self.thirst = (self.thirst - gulp).max(0.0);
            span.to = time + STEP;
            self.slops_until[*bucket] = time + 20.0;
            if *left <= 1e-9 || self.litres[*bucket] <= 0.05 {
                self.last_drink = time;
                self.record.drinks.push(*span);
                self.drinking = None;
            }
            return;
        }
        let at_bucket = self.rounds.first().is_some_and(|comes| time > comes - HAND_BEFORE)
            || self.pouring.iter().any(Option::is_some)
            || self.record.refills.last().is_some_and(|poured| time < poured.to + HAND_AFTER);
        if self.ice.is_some() || self.stall.is_out(time) || within(&self.record.refuses) || at_bucket {
            return;
        }
        let since = time - self.last_drink;
        if let Some(litres) = self.stall.ways.bout(STEP, since, self.thirst, &mut self.dice) {
            let bucket = if self.litres.len() > 1 && self.dice.happens(0.4) { 1 } else { 0 };
            if self.litres[bucket] > 0.2 {
                self.drinking = Some((bucket, litres, Span { from: time, to: time, litres: 0.0 }));
            }
        }
    }

    fn speak(&mut self, bucket: usize, time: f64) {
        let trouble =
            self.record.troubles.iter().find(|one| bucket == 0 && (one.from..one.to).contains(&time)).copied();
        let solid = &self.stall.buckets[bucket];
        let sight = Sight {
            height: solid.height(self.litres[bucket]),
            top: solid.walls.height(),
            slops: time <= self.slops_until[bucket],
            head: self.drinking.as_ref().is_some_and(|(at, ..)| *at == bucket),
        };
        let gauge = &mut self.gauges[bucket];
        let reading = gauge.read(time, &sight, trouble.as_ref());
        let before = self.speaks[bucket];
        self.speaks[bucket] = time + gauge.pause();
        let fault = trouble.map(|trouble| trouble.fault);
        let out = self.record.outages.iter().any(|span| (span.from..span.to).contains(&time));
        let own_time = gauge.clock.then_some(time);
        if out || fault == Some(Fault::Silent) {
            return;
        }
        for arrives in gauge.send(time) {
            self.messages.push(Message { arrives, own_time, bucket, says: Says::Level(reading) });
        }
        // The battery is told about every half an hour.
        if (before / 1800.0).floor() != (self.speaks[bucket] / 1800.0).floor() {
            self.battery -= 0.02;
            let left = if fault == Some(Fault::Battery) { 11.0 } else { self.battery.max(25.0).round() };
            self.messages.push(Message { arrives: time + 0.5, own_time, bucket, says: Says::Battery(left) });
        }
    }
}
