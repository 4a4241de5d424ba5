//! A level sensor and its radio: scatter, steps, splashes, a head in the beam, spikes, words that get lost, come twice or
//! late; and the ways in which it breaks.

use super::DAY;
use crate::dice::Dice;

/// Kinds of cheap level sensors.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Kind {
    /// Sound from above, in millimetres.
    Ultrasonic,
    /// Light from above, in millimetres.
    Light,
    /// Pressure from below, in millimetres; moves with the warmth of the day.
    Pressure,
    /// Sound from above, in steps of five millimetres.
    Coarse,
}

impl Kind {
    /// True where it hangs over the water and looks down.
    pub fn looks_down(self) -> bool {
        self != Kind::Pressure
    }

    /// Standard deviation of a reading, and its smallest step, in millimetres.
    fn scatter(self) -> (f64, f64) {
        match self {
            Kind::Ultrasonic => (2.0, 1.0),
            Kind::Light => (3.0, 1.0),
            Kind::Pressure => (1.2, 1.0),
            Kind::Coarse => (2.5, 5.0),
        }
    }
}

/// How a sensor breaks.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Fault {
    /// Says its last reading again and again.
    Stuck,
    /// Its zero rises.
    DriftsUp,
    /// Its zero sinks.
    DriftsDown,
    /// Something hangs before it.
    Blocked,
    /// Hangs upside down or has turned away.
    TurnedAway,
    /// Says nothing.
    Silent,
    /// Its battery is nearly empty.
    Battery,
}

impl Fault {
    /// All of them.
    pub const ALL: [Fault; 7] = [
        Fault::Stuck,
        Fault::DriftsUp,
        Fault::DriftsDown,
        Fault::Blocked,
        Fault::TurnedAway,
        Fault::Silent,
        Fault::Battery,
    ];
}

/// A fault, from when to when.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Trouble {
    /// Which.
    pub fault: Fault,
    /// When it begins, in seconds.
    pub from: f64,
    /// When somebody has mended it.
    pub to: f64,
    /// For drifts: millimetres an hour.
    pub per_hour: f64,
}

/// What arrives at the hub.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Message {
    /// When it arrives.
    pub arrives: f64,
    /// When it was measured, where the sensor has a clock.
    pub own_time: Option<f64>,
    /// Which bucket of the stall.
    pub bucket: usize,
    /// What it says.
    pub says: Says,
}

/// What a message says.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Says {
    /// A reading in millimetres.
    Level(f64),
    /// A battery in percent.
    Battery(f64),
}

/// One sensor over or in one bucket.
#[derive(Clone, Debug)]
pub struct Gauge {
    /// What kind.
    pub kind: Kind,
    /// Seconds between two readings.
    pub every: f64,
    /// What it reads over or in an empty bucket, in millimetres.
    pub empty: f64,
    /// Whether it has a clock of its own.
    pub clock: bool,
    dice: Dice,
    last: f64,
}

/// What a sensor sees at a moment.
pub(super) struct Sight {
    /// Height of the water in millimetres.
    pub height: f64,
    /// Height of the vessel.
    pub top: f64,
    /// True while and just after it is drunk from or poured into.
    pub slops: bool,
    /// True while a horse drinks.
    pub head: bool,
}

impl Gauge {
    pub(super) fn new(kind: Kind, every: f64, top: f64, dice: &mut Dice) -> Self {
        let empty =
            if kind.looks_down() { top + dice.within(90.0..140.0).round() } else { dice.within(0.0..20.0).round() };
        Self { kind, every, empty, clock: dice.happens(0.5), dice: Dice::new(dice.roll()), last: 0.0 }
    }

    /// A reading in millimetres.
    pub(super) fn read(&mut self, time: f64, sight: &Sight, trouble: Option<&Trouble>) -> f64 {
        let (deviation, step) = self.kind.scatter();
        let mut height = sight.height + self.dice.normal(deviation);
        if sight.slops {
            height += self.dice.normal(8.0);
        }
        if self.kind == Kind::Pressure {
            height += 1.5 * (std::f64::consts::TAU * time / DAY).sin();
        }
        if self.kind.looks_down() && sight.head && self.dice.happens(0.6) {
            height += self.dice.within(0.0..1.0) * (sight.top + 60.0 - sight.height);
        }
        if self.dice.happens(0.003) {
            height = self.dice.within(-0.4..1.4) * sight.top;
        }
        match trouble.map(|trouble| (trouble.fault, trouble)) {
            Some((Fault::Stuck, _)) => return self.last,
            Some((Fault::DriftsUp | Fault::DriftsDown, trouble)) => {
                height += trouble.per_hour * (time - trouble.from) / 3600.0;
            }
            Some((Fault::Blocked, _)) => height = sight.top * 1.25 + self.dice.normal(4.0),
            Some((Fault::TurnedAway, _)) => height = -sight.top * 1.5 + self.dice.normal(25.0),
            _ => {}
        }
        let reading = if self.kind.looks_down() { self.empty - height } else { self.empty + height };
        self.last = (reading / step).round() * step;
        self.last
    }

    /// When a word that is sent now arrives: lost, at once, twice or late.
    pub(super) fn send(&mut self, time: f64) -> Vec<f64> {
        if self.dice.happens(0.01) {
            return Vec::new();
        }
        let soon = time + self.dice.within(0.05..1.5);
        if self.dice.happens(0.005) {
            return vec![soon, soon + self.dice.within(1.0..20.0)];
        }
        if self.dice.happens(0.01) {
            return vec![time + self.dice.within(5.0..90.0)];
        }
        vec![soon]
    }

    /// Seconds to the next reading.
    pub(super) fn pause(&mut self) -> f64 {
        self.every + self.dice.within(-0.03..0.03) * self.every
    }
}
