//! How much work a horse has done today and this week, by what people said: a ride counts once its horse was led out, from
//! when its rider was to mount until the horse was brought back. What nobody said is not known, so these are at least what
//! it did. It is held against the horse's own limits, as the equine professional has set them; nothing here decides.
//!
//! Times are instants, so that rides in a row are told over midnight and hours are those that pass on days when clocks
//! change. A ride is a ride of the local day on which it begins, and weeks go from Monday to Sunday.

use std::collections::BTreeMap;

use chrono::{Days, NaiveDate, Weekday};
use serde::{Deserialize, Serialize};

use crate::book::WorkLimits;
use crate::id::{HorseId, RideId};
use crate::prep::work_limits::Above;
use crate::time::Wall;

/// Days that are kept: this week and the one before, so that a Monday can be looked back on.
const KEPT_DAYS: u64 = 14;

/// A ride that was ridden, or is being.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Ridden {
    /// On which horse.
    pub horse: HorseId,
    /// From when.
    pub from: Wall,
    /// Until when: as was said, or as planned.
    pub to: Wall,
    /// True where somebody said that the horse is back.
    pub back: bool,
}

/// The rides of the last days.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
pub struct WorkDone {
    days: BTreeMap<NaiveDate, BTreeMap<RideId, Ridden>>,
}

/// What a horse has done.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Done {
    /// Rides today.
    pub rides: u32,
    /// Whole minutes of riding today.
    pub minutes: u32,
    /// The most whole minutes of riding without a rest that reach into today.
    pub in_a_row: u32,
    /// Rides this week, Monday to Sunday.
    pub rides_this_week: u32,
    /// Whole minutes of riding this week.
    pub minutes_this_week: u32,
    /// Days of this week with a ride, today too.
    pub days_this_week: u32,
}

impl Done {
    /// What is above the horse's limits already.
    pub fn above(&self, most: &WorkLimits) -> Vec<Above> {
        [
            Above::rides_a_day(self.rides, most),
            Above::minutes_in_a_row(self.in_a_row, most),
            Above::minutes_a_day(self.minutes, most),
            Above::days_a_week(self.days_this_week, most),
        ]
        .into_iter()
        .flatten()
        .collect()
    }
}

impl WorkDone {
    /// What is known now of a ride of that day; `None` where it was not ridden after all.
    pub fn know(&mut self, date: NaiveDate, ride: &RideId, ridden: Option<Ridden>) {
        match ridden {
            Some(ridden) => {
                self.days.entry(date).or_default().insert(ride.clone(), ridden);
                if let Some(first) = date.checked_sub_days(Days::new(KEPT_DAYS - 1)) {
                    self.days.retain(|day, _| *day >= first);
                }
            }
            None => {
                if let Some(rides) = self.days.get_mut(&date) {
                    rides.remove(ride);
                }
            }
        }
    }

    /// What a horse has done by `now` on the day `today`. Rides no further than `rest_ms` apart are without a rest.
    pub fn of(&self, horse: &HorseId, today: NaiveDate, now: Wall, rest_ms: u64) -> Done {
        let mut done = Done::default();
        let (mut today_ms, mut week_ms) = (0, 0);
        let week = today.week(Weekday::Mon).days();
        for (date, rides) in &self.days {
            let ridden: Vec<i64> =
                rides.values().filter(|ride| ride.horse == *horse).filter_map(|ride| lasted(ride, now)).collect();
            let (count, millis) = (ridden.len() as u32, ridden.iter().sum::<i64>());
            if *date == today {
                done.rides = count;
                today_ms = millis;
            }
            if week.contains(date) {
                done.rides_this_week += count;
                week_ms += millis;
                done.days_this_week += u32::from(count > 0);
            }
        }
        done.minutes = minutes(today_ms);
        done.minutes_this_week = minutes(week_ms);
        done.in_a_row = minutes(self.longest(horse, today, now, rest_ms));
        done
    }

    /// When a horse's last ride before `now` ended; `now` where it is still out.
    pub fn last_ended(&self, horse: &HorseId, now: Wall) -> Option<Wall> {
        let rides = self.days.values().flat_map(BTreeMap::values);
        rides.filter(|ride| ride.horse == *horse && ride.from <= now).map(|ride| ride.to.min(now)).max()
    }

    /// The longest riding without a rest of which a ride is today's, in milliseconds.
    fn longest(&self, horse: &HorseId, today: NaiveDate, now: Wall, rest_ms: u64) -> i64 {
        let yesterday = today.pred_opt().unwrap_or(today);
        let mut rides: Vec<(&NaiveDate, &Ridden, i64)> = self
            .days
            .range(yesterday..=today)
            .flat_map(|(date, rides)| rides.values().map(move |ride| (date, ride)))
            .filter(|(_, ride)| ride.horse == *horse)
            .filter_map(|(date, ride)| Some((date, ride, lasted(ride, now)?)))
            .collect();
        rides.sort_by_key(|(_, ride, _)| ride.from);
        let (mut longest, mut row, mut until) = (0, 0, None);
        for (date, ride, millis) in rides {
            let rested = until.is_none_or(|until: Wall| ride.from.since(until) > rest_ms as i64);
            row = if rested { millis } else { row + millis };
            until = Some(ride.to);
            if *date == today {
                longest = longest.max(row);
            }
        }
        longest
    }
}

/// How long a ride has lasted by `now`, in milliseconds; `None` where it has not begun.
fn lasted(ride: &Ridden, now: Wall) -> Option<i64> {
    let until = if ride.back { ride.to } else { ride.to.min(now) };
    Some(until.since(ride.from)).filter(|millis| *millis > 0)
}

fn minutes(millis: i64) -> u32 {
    u32::try_from(millis / 60_000).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::{TimeOfDay, Zone};
    use crate::units::Minutes;

    const ZONE: Zone = Zone(chrono_tz::America::New_York);
    const REST_MS: u64 = 20 * 60_000;

    fn wall(day: u32, hour: u16, minute: u16) -> Wall {
        ZONE.instant(date(day), TimeOfDay::new(hour, minute).expect("a time"))
    }

    /// A day of November 2026, or after its end.
    fn date(day: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 10, 25).expect("a Sunday") + Days::new(u64::from(day))
    }

    /// Rides of day, hour, minute and length, all brought back.
    fn worked(rides: &[(u32, u16, u16, i64)]) -> WorkDone {
        let mut work = WorkDone::default();
        for (i, (day, hour, minute, minutes)) in rides.iter().enumerate() {
            let from = wall(*day, *hour, *minute);
            let ridden = Ridden { horse: "moss".into(), from, to: from.plus(minutes * 60_000), back: true };
            work.know(date(*day), &RideId::new(format!("r{i}")), Some(ridden));
        }
        work
    }

    fn of(work: &WorkDone, day: u32) -> Done {
        work.of(&"moss".into(), date(day), wall(day, 23, 59), REST_MS)
    }

    #[test]
    fn a_week_goes_from_monday_to_sunday_and_is_forgotten_after_the_next() {
        // Day 0 is a Sunday.
        let mut work = worked(&[(0, 9, 0, 45), (1, 9, 0, 45), (3, 9, 0, 30), (3, 11, 0, 30), (7, 9, 0, 45)]);
        let done = of(&work, 7);
        assert_eq!((done.rides_this_week, done.minutes_this_week, done.days_this_week), (4, 150, 3));
        assert_eq!((done.rides, done.minutes, done.in_a_row), (1, 45, 45));
        assert_eq!(of(&work, 0).days_this_week, 1);
        assert_eq!(of(&work, 8), Done::default(), "a new week");
        let other = work.of(&"juniper".into(), date(3), wall(3, 23, 0), REST_MS);
        assert_eq!(other, Done::default());
        let from = wall(16, 9, 0);
        let ridden = Ridden { horse: "moss".into(), from, to: from.plus(60_000), back: true };
        work.know(date(16), &"late".into(), Some(ridden));
        assert_eq!(work.days.keys().min(), Some(&date(3)));
    }

    #[test]
    fn rides_in_a_row_are_told_over_midnight() {
        let work = worked(&[(2, 22, 30, 30), (2, 23, 15, 40), (3, 0, 5, 45), (3, 9, 0, 50)]);
        let done = of(&work, 3);
        assert_eq!((done.rides, done.minutes, done.in_a_row), (2, 95, 115));
        assert_eq!(of(&work, 2).in_a_row, 70, "of the evening before, as it was then");
    }

    #[test]
    fn minutes_are_those_that_pass_where_clocks_change() {
        // 2026-11-01, day 7: 1:45 EDT and 45 minutes on it is 1:30 EST.
        let night = worked(&[(7, 1, 45, 45), (7, 3, 0, 30)]);
        let done = of(&night, 7);
        assert_eq!((done.minutes, done.in_a_row), (75, 45), "an hour and a half lies between");
        assert_eq!(done.days_this_week, 1);
    }

    #[test]
    fn a_ride_counts_as_far_as_it_has_come_and_not_where_it_was_taken_back() {
        let mut work = WorkDone::default();
        let out = Ridden { horse: "moss".into(), from: wall(3, 10, 0), to: wall(3, 10, 45), back: false };
        work.know(date(3), &"r1".into(), Some(out.clone()));
        let at = |work: &WorkDone, hour, minute| {
            let now = wall(3, hour, minute);
            let done = work.of(&"moss".into(), date(3), now, REST_MS);
            (done.rides, done.minutes, work.last_ended(&"moss".into(), now).map(|end| now.since(end) / 60_000))
        };
        assert_eq!(at(&work, 9, 55), (0, 0, None), "led out, not mounted yet");
        assert_eq!(at(&work, 10, 20), (1, 20, Some(0)));
        assert_eq!(at(&work, 11, 0), (1, 45, Some(15)), "nobody says that it is back");
        work.know(date(3), &"r1".into(), Some(Ridden { to: wall(3, 10, 30), back: true, ..out }));
        assert_eq!(at(&work, 11, 0), (1, 30, Some(30)));
        work.know(date(3), &"r1".into(), None);
        assert_eq!(at(&work, 11, 0), (0, 0, None));
    }

    #[test]
    fn what_is_above_is_told_by_the_limits_that_are_set() {
        let done = Done { rides: 3, minutes: 120, in_a_row: 61, days_this_week: 6, ..Done::default() };
        let most = WorkLimits {
            rides_a_day: Some(2),
            minutes_in_a_row: Some(Minutes(60)),
            minutes_a_day: Some(Minutes(120)),
            days_a_week: Some(5),
            load: None,
        };
        let words: Vec<String> = done.above(&most).iter().map(ToString::to_string).collect();
        assert_eq!(
            words,
            [
                "3 rides a day, above the 2",
                "61 minutes in a row, above the 60",
                "6 days of work in the week, above the 5"
            ]
        );
        assert!(done.above(&WorkLimits::default()).is_empty());
    }
}
