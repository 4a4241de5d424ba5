//! Temperature and humidity of one place, and what they add up to: bands for horses and for people. Both come from one
//! box or from two; what is made of them is made of the last of each, while both are fresh enough to be believed. And the
//! hours of the last days, for who looks ahead.

use serde::{Deserialize, Serialize};

use crate::board::{HeatBand, PeopleBand};
use crate::heat::bands::Bands;
use crate::heat::indices::HorseSum;
use crate::heat::people::PeopleBands;
use crate::heat::record::Record;
use crate::limits::HeatLimits;
use crate::time::{Mono, Wall};
use crate::units::{Celsius, RelativeHumidity};

/// What is known of one place.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Climate {
    temperature: Option<(Mono, Celsius)>,
    humidity: Option<(Mono, RelativeHumidity)>,
    bands: Bands,
    people: PeopleBands,
    record: Record,
}

/// Both quantities of a place, and what they add up to.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Heat {
    /// Air temperature.
    pub temperature: Celsius,
    /// Relative humidity.
    pub humidity: RelativeHumidity,
    /// Degrees Fahrenheit plus percent humidity.
    pub sum: HorseSum,
    /// The band for horses, deadband counted in.
    pub band: HeatBand,
    /// True where the floor for dry heat put it higher than the sum did.
    pub dry: bool,
    /// The band for people.
    pub people: PeopleBand,
    /// When the older of the two was measured.
    pub measured: Mono,
}

impl Climate {
    /// Takes a temperature; one older than the last says nothing about now.
    pub fn temperature(&mut self, value: Celsius, measured: Mono, limits: &HeatLimits) {
        if self.temperature.is_none_or(|(last, _)| last <= measured) {
            self.temperature = Some((measured, value));
            self.judge(measured, limits);
        }
    }

    /// Takes a humidity; one older than the last says nothing about now.
    pub fn humidity(&mut self, value: RelativeHumidity, measured: Mono, limits: &HeatLimits) {
        if self.humidity.is_none_or(|(last, _)| last <= measured) {
            self.humidity = Some((measured, value));
            self.judge(measured, limits);
        }
    }

    /// Writes a temperature down for later.
    pub fn record_temperature(&mut self, value: Celsius, at: Wall) {
        self.record.temperature(value, at);
    }

    /// Writes a humidity down for later.
    pub fn record_humidity(&mut self, value: RelativeHumidity, at: Wall) {
        self.record.humidity(value, at);
    }

    /// The hours of the last days.
    pub fn record(&self) -> &Record {
        &self.record
    }

    /// What both add up to; none until both have been heard.
    pub fn heat(&self) -> Option<Heat> {
        let ((at, temperature), (too, humidity)) = (self.temperature?, self.humidity?);
        let sum = HorseSum::new(temperature, humidity).ok()?;
        let (band, people) = (self.bands.shown(), self.people.shown());
        let dry = band > self.bands.by_sum();
        Some(Heat { temperature, humidity, sum, band, dry, people, measured: at.min(too) })
    }

    /// The last temperature: frost needs no humidity.
    pub fn last_temperature(&self) -> Option<Celsius> {
        self.temperature.map(|(_, value)| value)
    }

    /// The bands that have lasted long enough to be alarms, and when to ask again if nothing is heard before.
    pub fn alarm(&self, limits: &HeatLimits, now: Mono) -> (HeatBand, PeopleBand, Option<Mono>) {
        let again = [self.bands.next_deadline(limits, now), self.people.next_deadline(limits.alarm_after, now)];
        let (horses, people) = (self.bands.alarm(limits, now), self.people.alarm(limits.alarm_after, now));
        (horses, people, again.into_iter().flatten().min())
    }

    fn judge(&mut self, measured: Mono, limits: &HeatLimits) {
        let (Some((_, temperature)), Some((_, humidity))) = (self.temperature, self.humidity) else { return };
        if let Ok(sum) = HorseSum::new(temperature, humidity) {
            self.bands = self.bands.assess(sum, limits, measured);
        }
        self.people = self.people.assess(temperature, humidity, &limits.people, measured);
    }
}
