//! The heat of a day, hour by hour, as a screen draws it. An hour is one of the record's, told at its middle, for which its mean
//! stands; so that a line through what was measured goes on through what is expected.

use serde::{Deserialize, Serialize};

use super::view::tenth;
use crate::board::HeatHour;
use crate::heat::forecast::{Air, Forecast};
use crate::heat::indices::HorseSum;
use crate::heat::record::{HOUR_MS, Record, hour_of};
use crate::time::{Wall, Zone};
use crate::units::{Celsius, RelativeHumidity};

/// What is expected of an hour, in tenths of the horse sum.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub(super) struct Expected {
    /// Which hour of the record's.
    hour: i64,
    sum: i32,
    low: i32,
    high: i32,
}

/// The hours to come, as far as a forecast of `at` reaches.
pub(super) fn expected(forecast: &Forecast, at: Wall) -> Vec<Expected> {
    let first = hour_of(at.plus(HOUR_MS / 2));
    let one = |hour: i64| {
        let minutes = u32::try_from(middle(hour).since(at) / 60_000).ok()?;
        if minutes > forecast.reach() {
            return None;
        }
        let paths = forecast.spread(minutes, |air| of(air).unwrap_or(f64::NAN));
        // A path is how a day of this barn's own went on: one in ten of them is below, half, and one in ten above.
        let share = |tenths: usize| {
            let value = paths.get((tenths * paths.len()).div_ceil(10).max(1) - 1)?;
            value.is_finite().then_some((value * 10.0).round() as i32)
        };
        Some(Expected { hour, sum: share(5)?, low: share(1)?, high: share(9)? })
    };
    (first..).map_while(one).collect()
}

/// The hours of the day of `now` whose air is known, and those that are expected.
pub(super) fn hours(record: &Record, expected: &[Expected], zone: Zone, now: Wall) -> Vec<HeatHour> {
    let date = zone.date(now);
    let day = zone.day(date);
    let next = date.succ_opt().map_or(day, |next| zone.day(next));
    let first = hour_of(day.wall(0).plus(HOUR_MS / 2 - 1));
    let mut told: Vec<HeatHour> = Vec::with_capacity(24);
    for hour in (first..).take_while(|hour| middle(*hour) < next.wall(0)) {
        let known = if middle(hour) <= now { measured(record, hour) } else { None };
        let coming = || expected.iter().find(|one| one.hour == hour && middle(hour) > now);
        let at = zone.time_of_day(middle(hour));
        let (sum, low, high, measured) = match (known, coming()) {
            (Some(sum), _) => (tenth(sum), tenth(sum), tenth(sum), true),
            (None, Some(one)) => (from_tenths(one.sum), from_tenths(one.low), from_tenths(one.high), false),
            (None, None) => continue,
        };
        // Of an hour that comes twice in autumn the first.
        if told.last().is_none_or(|last| last.at < at) {
            told.push(HeatHour { at, sum, low, high, measured });
        }
    }
    told
}

fn measured(record: &Record, hour: i64) -> Option<f64> {
    let (temperature, humidity): (Celsius, RelativeHumidity) = record.air(hour)?;
    HorseSum::new(temperature, humidity).ok().map(HorseSum::get)
}

fn of(air: Air) -> Option<f64> {
    HorseSum::new(air.temperature(), air.humidity()).ok().map(HorseSum::get)
}

fn from_tenths(tenths: i32) -> f64 {
    f64::from(tenths) / 10.0
}

/// The middle of an hour of the record's.
fn middle(hour: i64) -> Wall {
    Wall(hour * HOUR_MS + HOUR_MS / 2)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::TimeOfDay;
    use chrono::NaiveDate;

    const NEW_YORK: Zone = Zone(chrono_tz::America::New_York);
    const KOLKATA: Zone = Zone(chrono_tz::Asia::Kolkata);

    fn wall(zone: Zone, (month, day): (u32, u32), (hour, minute): (u16, u16)) -> Wall {
        let date = NaiveDate::from_ymd_opt(2026, month, day).expect("a date");
        zone.instant(date, TimeOfDay::new(hour, minute).expect("a time"))
    }

    /// 20 °C and as many percent as hours of UTC since the middle of the day began, from `from` to `to`.
    fn record(from: Wall, to: Wall) -> Record {
        let mut record = Record::default();
        for hour in hour_of(from)..hour_of(to) {
            record.temperature(Celsius(20.0), middle(hour));
            record.humidity(RelativeHumidity((hour - hour_of(from)) as f64), middle(hour));
        }
        record
    }

    fn coming(from: Wall, count: i64) -> Vec<Expected> {
        let first = hour_of(from);
        (first..first + count).map(|hour| Expected { hour, sum: 1000, low: 950, high: 1081 }).collect()
    }

    #[test]
    fn what_was_is_told_and_then_what_is_expected() {
        let now = wall(NEW_YORK, (6, 18), (10, 20));
        let record = record(wall(NEW_YORK, (6, 18), (0, 0)), now.plus(HOUR_MS));
        let told = hours(&record, &coming(now, 16), NEW_YORK, now);
        assert_eq!(told.len(), 24);
        let ten = &told[9..11];
        assert_eq!((ten[0].at, ten[0].measured, ten[0].sum), (TimeOfDay::new(9, 30).expect("a time"), true, 77.0));
        let expected = HeatHour {
            at: TimeOfDay::new(10, 30).expect("a time"),
            sum: 100.0,
            low: 95.0,
            high: 108.1,
            measured: false,
        };
        assert_eq!(ten[1], expected);
        // Half past ten is over: what was measured of that hour counts.
        assert!(hours(&record, &coming(now, 16), NEW_YORK, now.plus(15 * 60_000))[10].measured);
        assert_eq!(hours(&Record::default(), &[], NEW_YORK, now), []);
    }

    #[test]
    fn days_of_23_and_25_hours_and_a_zone_of_half_hours() {
        for (zone, day, count) in
            [(NEW_YORK, (3, 8), 23), (NEW_YORK, (11, 1), 24), (KOLKATA, (6, 18), 24), (NEW_YORK, (6, 18), 24)]
        {
            let midnight = wall(zone, day, (0, 0));
            let told = hours(&record(midnight, midnight), &coming(midnight, 30), zone, midnight);
            assert!(told.is_sorted_by(|a, b| a.at < b.at), "{told:?}");
            // At the very midnight of a zone of half hours the first hour's middle is now: it has been, and nobody measured.
            let missing = usize::from(middle(hour_of(midnight)) == midnight);
            assert_eq!(told.len(), count - missing, "{zone:?} {day:?}");
        }
    }
}
