//! The air of a place, hour by hour, over the last two weeks: what a forecast of this barn's own rests on.
//!
//! An hour is one of UTC, so that a day is always 24 of them, whatever local clocks do. It holds the mean temperature and
//! the mean humidity of what was measured in it, to a hundredth; an hour in which nothing was measured is a gap. What
//! arrives late, by a sensor's own time, fills a gap; it does not change an hour that is known.
//!
//! Knows no limit, no forecast and no place.

use serde::{Deserialize, Serialize};

use crate::time::Wall;
use crate::units::{Celsius, RelativeHumidity};

/// How many hours are kept: 15 days.
pub const HOURS_KEPT: usize = 15 * 24;
/// An hour in milliseconds.
pub const HOUR_MS: i64 = 3_600_000;

/// The record of one place.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Record {
    /// The hour of the last entry, counted since 1970; nothing is known of the time before the first.
    newest: i64,
    /// Oldest first.
    hours: Vec<Hour>,
    /// What the mean of the newest hour is made of.
    temperature: Mean,
    humidity: Mean,
}

/// An hour, in hundredths of a degree Celsius and of a percent.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
struct Hour(Option<i32>, Option<i32>);

#[derive(Clone, Copy, PartialEq, Debug, Default, Serialize, Deserialize)]
struct Mean {
    sum: f64,
    count: u32,
}

impl Mean {
    fn and(self, value: f64) -> Self {
        Self { sum: self.sum + value, count: self.count.saturating_add(1) }
    }

    fn hundredths(self) -> Option<i32> {
        (self.count > 0).then(|| hundredths(self.sum / f64::from(self.count)))
    }
}

impl Record {
    /// A temperature was measured at that time.
    pub fn temperature(&mut self, value: Celsius, at: Wall) {
        if self.is_newest(hour_of(at)) {
            self.temperature = self.temperature.and(value.get());
            let mean = self.temperature.hundredths();
            self.newest_mut(|hour| hour.0 = mean);
        } else if let Some(hour) = self.gap(at) {
            hour.0 = hour.0.or(Some(hundredths(value.get())));
        }
    }

    /// A humidity was measured at that time.
    pub fn humidity(&mut self, value: RelativeHumidity, at: Wall) {
        if self.is_newest(hour_of(at)) {
            self.humidity = self.humidity.and(value.get());
            let mean = self.humidity.hundredths();
            self.newest_mut(|hour| hour.1 = mean);
        } else if let Some(hour) = self.gap(at) {
            hour.1 = hour.1.or(Some(hundredths(value.get())));
        }
    }

    /// The hours that are kept, as numbers since 1970.
    pub fn hours(&self) -> std::ops::Range<i64> {
        let count = i64::try_from(self.hours.len()).unwrap_or(0);
        self.newest + 1 - count..self.newest + 1
    }

    /// The air of an hour, where both are known.
    pub fn air(&self, hour: i64) -> Option<(Celsius, RelativeHumidity)> {
        let place = usize::try_from(hour - self.hours().start).ok()?;
        let Hour(temperature, humidity) = self.hours.get(place)?;
        Some((Celsius(f64::from((*temperature)?) / 100.0), RelativeHumidity(f64::from((*humidity)?) / 100.0)))
    }

    /// How many hours are known.
    pub fn known(&self) -> usize {
        self.hours.iter().filter(|hour| hour.0.is_some() && hour.1.is_some()).count()
    }

    /// True where that hour is the newest one, which it is made where it is newer.
    fn is_newest(&mut self, hour: i64) -> bool {
        let ahead = hour - self.newest;
        // A wall clock that was years ahead must not lock the record: a hour older than all that could be kept begins it anew.
        if self.hours.is_empty() || ahead >= HOURS_KEPT as i64 || ahead <= -(HOURS_KEPT as i64) {
            *self = Self { newest: hour, hours: vec![Hour::default()], ..Self::default() };
            return true;
        }
        if ahead > 0 {
            self.hours.extend((0..ahead).map(|_| Hour::default()));
            let over = self.hours.len().saturating_sub(HOURS_KEPT);
            self.hours.drain(..over);
            (self.newest, self.temperature, self.humidity) = (hour, Mean::default(), Mean::default());
        }
        ahead >= 0
    }

    fn newest_mut(&mut self, change: impl FnOnce(&mut Hour)) {
        if let Some(hour) = self.hours.last_mut() {
            change(hour);
        }
    }

    /// An hour before the newest; one before the first makes room for itself.
    fn gap(&mut self, at: Wall) -> Option<&mut Hour> {
        let hour = hour_of(at);
        let before = usize::try_from(self.hours().start - hour).unwrap_or(0);
        if before > 0 && self.hours.len() + before <= HOURS_KEPT {
            self.hours.splice(0..0, std::iter::repeat_n(Hour::default(), before));
        }
        let place = usize::try_from(hour - self.hours().start).ok()?;
        self.hours.get_mut(place)
    }
}

/// The hour in which an instant falls, counted since 1970.
pub fn hour_of(at: Wall) -> i64 {
    at.0.div_euclid(HOUR_MS)
}

fn hundredths(value: f64) -> i32 {
    // Within ±10,000 by what a sensor may say at all.
    (value * 100.0).round() as i32
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(hour: i64, minute: i64) -> Wall {
        Wall((500_000 + hour) * HOUR_MS + minute * 60_000)
    }

    fn tell(record: &mut Record, at: Wall, t: f64, rh: f64) {
        record.temperature(Celsius(t), at);
        record.humidity(RelativeHumidity(rh), at);
    }

    #[test]
    fn an_hour_is_the_mean_of_what_was_measured_in_it() {
        let mut record = Record::default();
        tell(&mut record, at(0, 5), 20.0, 50.0);
        tell(&mut record, at(0, 55), 21.0, 60.0);
        tell(&mut record, at(3, 0), 25.0, 40.0);
        assert_eq!(record.hours(), 500_000..500_004);
        assert_eq!(record.air(500_000), Some((Celsius(20.5), RelativeHumidity(55.0))));
        assert_eq!((record.air(500_001), record.air(500_004), record.known()), (None, None, 2));
    }

    #[test]
    fn what_comes_late_fills_gaps_and_changes_nothing_that_is_known() {
        let mut record = Record::default();
        tell(&mut record, at(10, 0), 20.0, 50.0);
        tell(&mut record, at(12, 0), 22.0, 50.0);
        tell(&mut record, at(11, 0), 21.0, 51.0);
        tell(&mut record, at(11, 30), 99.0, 99.0);
        tell(&mut record, at(8, 0), 18.0, 52.0);
        let known: Vec<_> = record.hours().map(|hour| record.air(hour).map(|(t, _)| t.get())).collect();
        assert_eq!(known, [Some(18.0), None, Some(20.0), Some(21.0), Some(22.0)]);
    }

    #[test]
    fn it_keeps_so_many_hours_and_outlives_a_clock_that_was_years_ahead() {
        let mut record = Record::default();
        for hour in 0..400 {
            tell(&mut record, at(hour, 0), hour as f64, 50.0);
        }
        assert_eq!((record.known(), record.hours().end), (HOURS_KEPT, 500_400));
        let written = serde_json::to_string(&record).expect("plain data");
        assert!(written.len() < 6_000, "{} bytes", written.len());
        assert_eq!(serde_json::from_str::<Record>(&written).expect("as written"), record);
        tell(&mut record, at(90_000, 0), 20.0, 50.0);
        tell(&mut record, at(400, 0), 21.0, 50.0);
        assert_eq!((record.known(), record.hours()), (1, 500_400..500_401));
    }
}
