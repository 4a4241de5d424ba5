//! Temperature and humidity of one place, and the band of the horse sum that they add up to. Both come from one box or
//! from two; the sum is made of the last of each, while both are fresh enough to be believed.

use serde::{Deserialize, Serialize};

use crate::board::HeatBand;
use crate::heat::bands::Bands;
use crate::heat::indices::HorseSum;
use crate::limits::HeatLimits;
use crate::time::Mono;
use crate::units::{Celsius, RelativeHumidity};

/// What is known of one place.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Climate {
    temperature: Option<(Mono, Celsius)>,
    humidity: Option<(Mono, RelativeHumidity)>,
    bands: Bands,
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
    /// Its band, deadband counted in.
    pub band: HeatBand,
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

    /// What both add up to; none until both have been heard.
    pub fn heat(&self) -> Option<Heat> {
        let ((at, temperature), (too, humidity)) = (self.temperature?, self.humidity?);
        let sum = HorseSum::new(temperature, humidity).ok()?;
        Some(Heat { temperature, humidity, sum, band: self.bands.shown(), measured: at.min(too) })
    }

    /// The band that has lasted long enough to be an alarm, and when to ask again if nothing is heard before.
    pub fn alarm(&self, limits: &HeatLimits, now: Mono) -> (HeatBand, Option<Mono>) {
        (self.bands.alarm(limits, now), self.bands.next_deadline(limits, now))
    }

    fn judge(&mut self, measured: Mono, limits: &HeatLimits) {
        let (Some((_, temperature)), Some((_, humidity))) = (self.temperature, self.humidity) else { return };
        if let Ok(sum) = HorseSum::new(temperature, humidity) {
            self.bands = self.bands.assess(sum, limits, measured);
        }
    }
}
