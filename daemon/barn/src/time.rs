//! Time as the barn sees it: always given, never asked for.
//!
//! [`Mono`] is for ages, delays and retries. It never goes back, not even over a restart. [`Wall`] is for lessons and
//! records; small boards boot without a clock, so it may be [`WallClock::Unset`], and then water still works. Lessons
//! and days live in the barn's [`Zone`].

use std::fmt;

use chrono::{DateTime, Datelike, LocalResult, NaiveDate, NaiveTime, TimeDelta, TimeZone, Timelike, Utc};
use serde::{Deserialize, Serialize};

/// The barn's running time in milliseconds. It only grows; its zero means nothing.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Mono(pub u64);

impl Mono {
    /// Milliseconds since `earlier`, nothing where that is in the future.
    pub fn since(self, earlier: Mono) -> u64 {
        self.0.saturating_sub(earlier.0)
    }

    /// This time and `millis` more.
    pub fn plus(self, millis: u64) -> Mono {
        Mono(self.0.saturating_add(millis))
    }
}

/// An instant in UTC: milliseconds since 1970-01-01T00:00Z, leap seconds left out.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Wall(pub i64);

impl Wall {
    /// The instant as chrono has it; an instant beyond its years is held at the nearest end.
    pub fn utc(self) -> DateTime<Utc> {
        DateTime::from_timestamp_millis(self.0).unwrap_or(if self.0 < 0 {
            DateTime::<Utc>::MIN_UTC
        } else {
            DateTime::<Utc>::MAX_UTC
        })
    }

    /// Milliseconds from `earlier` to this; negative where `earlier` is later.
    pub fn since(self, earlier: Wall) -> i64 {
        self.0.saturating_sub(earlier.0)
    }

    /// This instant and `millis` more, or less.
    pub fn plus(self, millis: i64) -> Wall {
        Wall(self.0.saturating_add(millis))
    }
}

impl fmt::Display for Wall {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.utc().format("%Y-%m-%dT%H:%M:%S%.3fZ"))
    }
}

/// The wall clock, or the knowledge that there is none.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WallClock {
    /// Nobody has set the clock since the board booted.
    Unset,
    /// The clock can be trusted.
    Set(Wall),
}

impl WallClock {
    /// The instant, where there is a clock.
    pub fn get(self) -> Option<Wall> {
        match self {
            WallClock::Unset => None,
            WallClock::Set(wall) => Some(wall),
        }
    }
}

/// When an input happened, on both clocks.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Now {
    /// Running time.
    pub mono: Mono,
    /// Time of day, if known.
    pub wall: WallClock,
}

/// A time of day, in minutes after local midnight: 0 to 1,439.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(transparent)]
pub struct TimeOfDay(u16);

impl TimeOfDay {
    /// 12:00.
    pub const NOON: TimeOfDay = TimeOfDay(12 * 60);
    /// 23:00.
    pub const ELEVEN_PM: TimeOfDay = TimeOfDay(23 * 60);

    /// From hours (0 to 23) and minutes (0 to 59); `None` outside of these.
    pub fn new(hour: u16, minute: u16) -> Option<Self> {
        (hour < 24 && minute < 60).then_some(Self(hour * 60 + minute))
    }

    /// From minutes after midnight; `None` at 1,440 and above.
    pub fn from_minutes(minutes: u16) -> Option<Self> {
        (minutes < 1440).then_some(Self(minutes))
    }

    /// Minutes after local midnight.
    pub fn minutes(self) -> u16 {
        self.0
    }
}

impl fmt::Display for TimeOfDay {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("{}:{:02}", self.0 / 60, self.0 % 60))
    }
}

/// Times one after the other, as each is written.
pub fn listed(times: &[TimeOfDay]) -> String {
    times.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")
}

/// The barn's time zone, by its IANA name.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Zone(pub chrono_tz::Tz);

impl Zone {
    /// The local day on which the instant falls.
    pub fn date(self, wall: Wall) -> NaiveDate {
        wall.utc().with_timezone(&self.0).date_naive()
    }

    /// The local time of day of the instant, seconds cut off.
    pub fn time_of_day(self, wall: Wall) -> TimeOfDay {
        let local = wall.utc().with_timezone(&self.0);
        TimeOfDay((local.hour() * 60 + local.minute()) as u16)
    }

    /// The instant of a local time. Where clocks go back and the time comes twice, the first; where clocks go forward
    /// and the time does not come, the instant at which the clock jumps over it.
    pub fn instant(self, date: NaiveDate, time: TimeOfDay) -> Wall {
        let midnight = date.and_time(NaiveTime::MIN);
        let mut local = midnight + TimeDelta::minutes(i64::from(time.minutes()));
        loop {
            match self.0.from_local_datetime(&local) {
                LocalResult::Single(t) | LocalResult::Ambiguous(t, _) => return Wall(t.timestamp_millis()),
                // A gap ends on a whole minute in every zone, so this steps out of it within the gap's length.
                LocalResult::None => local += TimeDelta::minutes(1),
            }
        }
    }

    /// Monday is 0.
    pub fn weekday(date: NaiveDate) -> u8 {
        date.weekday().num_days_from_monday() as u8
    }
}

/// A local day as minutes since its first midnight. A day on which clocks change has 23 or 25 hours, and as many minutes:
/// what takes ten minutes takes ten minutes on it too.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct LocalDay {
    zone: Zone,
    date: NaiveDate,
    midnight: Wall,
}

impl Zone {
    /// The local day of that date.
    pub fn day(self, date: NaiveDate) -> LocalDay {
        LocalDay { zone: self, date, midnight: self.instant(date, TimeOfDay(0)) }
    }
}

impl LocalDay {
    /// Its date.
    pub fn date(self) -> NaiveDate {
        self.date
    }

    /// The minute in which the instant falls; negative before the day.
    pub fn minute(self, wall: Wall) -> i64 {
        wall.since(self.midnight).div_euclid(60_000)
    }

    /// The minute of a local time of this day.
    pub fn minute_of(self, time: TimeOfDay) -> i64 {
        self.minute(self.zone.instant(self.date, time))
    }

    /// The local time of day at a minute of this day, or of the days around it.
    pub fn time(self, minute: i64) -> TimeOfDay {
        self.zone.time_of_day(self.wall(minute))
    }

    /// The instant at which a minute begins.
    pub fn wall(self, minute: i64) -> Wall {
        self.midnight.plus(minute.saturating_mul(60_000))
    }
}

/// Today, and what minute of it a moment of the running clock is or was.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Today {
    day: LocalDay,
    mono: Mono,
    wall: Wall,
}

impl Today {
    /// The day of a moment; none where the wall clock is not set.
    pub fn of(zone: Zone, now: Now) -> Option<Self> {
        let wall = now.wall.get()?;
        Some(Self { day: zone.day(zone.date(wall)), mono: now.mono, wall })
    }

    /// The local day.
    pub fn day(&self) -> LocalDay {
        self.day
    }

    /// What minute it is.
    pub fn now(&self) -> i64 {
        self.day.minute(self.wall)
    }

    /// What minute it was, or will be.
    pub fn minute(&self, at: Mono) -> i64 {
        self.day.minute(self.wall.plus(at.0 as i64 - self.mono.0 as i64))
    }

    /// When a minute begins, by the running clock.
    pub fn mono(&self, minute: i64) -> Mono {
        Mono(self.mono.0.saturating_add_signed(self.day.wall(minute).since(self.wall)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NEW_YORK: Zone = Zone(chrono_tz::America::New_York);

    fn day(y: i32, m: u32, d: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(y, m, d).expect("a date of the calendar")
    }

    #[test]
    fn a_time_that_comes_twice_is_the_first_and_one_that_never_comes_is_the_jump() {
        // IANA tzdata, America/New_York: 2026-03-08 02:00 EST -> 03:00 EDT; 2026-11-01 02:00 EDT -> 01:00 EST.
        let half_past_two = TimeOfDay::new(2, 30).expect("a time");
        assert_eq!(NEW_YORK.instant(day(2026, 3, 8), half_past_two).to_string(), "2026-03-08T07:00:00.000Z");
        let half_past_one = TimeOfDay::new(1, 30).expect("a time");
        assert_eq!(NEW_YORK.instant(day(2026, 11, 1), half_past_one).to_string(), "2026-11-01T05:30:00.000Z");
    }

    #[test]
    fn minutes_of_a_day_are_those_that_pass() {
        // The same two days as above: 9:00 is eight hours after midnight in spring, and ten in autumn.
        let nine = TimeOfDay::new(9, 0).expect("a time");
        for (date, minutes) in [(day(2026, 3, 8), 480), (day(2026, 3, 9), 540), (day(2026, 11, 1), 600)] {
            let local = NEW_YORK.day(date);
            assert_eq!(local.minute_of(nine), minutes, "{date}");
            assert_eq!(local.time(minutes), nine, "{date}");
            assert_eq!(local.minute(NEW_YORK.instant(date, nine).plus(59_999)), minutes, "{date}");
        }
    }

    #[test]
    fn local_time_comes_back() {
        for minutes in (0..1440).step_by(7) {
            let time = TimeOfDay::from_minutes(minutes).expect("under a day");
            let wall = NEW_YORK.instant(day(2026, 6, 18), time);
            assert_eq!(NEW_YORK.time_of_day(wall), time);
            assert_eq!(NEW_YORK.date(wall), day(2026, 6, 18));
        }
    }
}
