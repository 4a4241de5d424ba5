//! What one horse drinks: by the hour, over some two weeks; how much that is in a day by its own habit; and how long it has
//! stood in its stall without drinking. Knows neither buckets nor alarms.
//!
//! A prompt to go and look at the horse, never a diagnosis: the equine professional and the vet decide.

use std::collections::VecDeque;

use chrono::{Days, NaiveDate};
use serde::{Deserialize, Serialize};

use super::settle::median;
use crate::units::Litres;

/// Days that are kept, today among them.
const DAYS: usize = 15;
/// A habit needs so many whole days.
pub const HABIT_DAYS: usize = 5;
/// A day is whole where its water was known for so many of its minutes, nine tenths.
const WHOLE_DAY_MIN: u32 = 1_296;
/// Litres of about two drinks of a horse.
pub const TWO_DRINKS: f64 = 7.0;
/// Where its water may have been ice for so many minutes, nobody knows what a horse would have drunk; nor
const ICE_MIN: u32 = 240;
/// on a day with so many minutes of frost on which it drank less than [`TWO_DRINKS`].
const FROST_MIN: u16 = 720;
/// After a refill a horse is given so many minutes before it is missed at its bucket.
const AFTER_REFILL_MIN: u32 = 240;
/// Sips that add up to less than this do not show that a horse drinks, in litres: sensors scatter, and water evaporates.
const A_DRINK: f64 = 0.6;

/// What one horse drinks.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Intake {
    days: VecDeque<Day>,
    /// Minutes in its stall, its water known, since it last drank.
    dry_min: u32,
    /// Litres that went since then, too few to be a drink.
    sipped: f64,
}

/// One local day.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Day {
    /// Which.
    pub date: NaiveDate,
    /// Litres in each hour of the day; the hour that comes twice in autumn holds both.
    pub litres: [f64; 24],
    /// Minutes of each hour in which its water was known.
    pub known_min: [u16; 24],
    /// The longest time in its stall without a drink that ended on this day, in minutes.
    pub longest_dry_min: u32,
    /// Minutes in which it had frozen for long, and of these those in which its water may have been ice.
    pub frost_min: u16,
    /// See there.
    pub ice_min: u16,
}

impl Day {
    fn new(date: NaiveDate) -> Self {
        Self { date, litres: [0.0; 24], known_min: [0; 24], longest_dry_min: 0, frost_min: 0, ice_min: 0 }
    }

    /// Litres of the whole day.
    pub fn total(&self) -> Litres {
        Litres(self.litres.iter().sum::<f64>().max(0.0))
    }

    /// True where nothing kept it from drinking as it usually does, as far as is known.
    fn could_drink(&self) -> bool {
        u32::from(self.ice_min) < ICE_MIN && (self.frost_min < FROST_MIN || self.total().get() >= TWO_DRINKS)
    }

    /// True where enough of it was seen.
    pub fn is_whole(&self) -> bool {
        self.known_min.iter().map(|min| u32::from(*min)).sum::<u32>() >= WHOLE_DAY_MIN
    }
}

/// What a horse usually drinks.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Habit {
    /// Litres a day: the middle of its whole days.
    pub litres: Litres,
    /// How far its days lie from that: 1.48 times the middle distance, which for errors that add up is a standard deviation.
    pub spread: Litres,
    /// On how many whole days it rests.
    pub days: u32,
}

impl Intake {
    /// Litres that went in an hour of a day; under zero where earlier ones were too many. Says true where that shows that it
    /// drinks: they are a drink, or with what went before.
    pub fn drank(&mut self, date: NaiveDate, hour: usize, litres: f64) -> bool {
        let dry = self.dry_min;
        let drinks = self.sipped + litres >= A_DRINK;
        let Some(day) = self.day(date) else { return false };
        day.litres[hour.min(23)] += litres;
        if drinks {
            day.longest_dry_min = day.longest_dry_min.max(dry);
            self.dry_min = 0;
            self.sipped = 0.0;
        } else {
            self.sipped = (self.sipped + litres).max(0.0);
        }
        drinks
    }

    /// Its bucket took litres: it drank them, though perhaps no reading told of all, and somebody stood before it. For so many
    /// minutes nothing more is said of how long it has not drunk than that it is under a limit.
    pub fn filled(&mut self, limit_min: u32) {
        self.dry_min = self.dry_min.min(limit_min.saturating_sub(AFTER_REFILL_MIN));
    }

    /// Minutes passed in which its water was known, and whether it stood in its stall.
    pub fn passed(&mut self, date: NaiveDate, hour: usize, minutes: u16, in_stall: bool) {
        if let Some(day) = self.day(date) {
            day.known_min[hour.min(23)] += minutes;
        }
        if in_stall {
            self.dry_min = self.dry_min.saturating_add(u32::from(minutes));
        }
    }

    /// Minutes in its stall, its water known, since it last drank.
    pub fn dry_min(&self) -> u32 {
        self.dry_min
    }

    /// Its days, oldest first; the last is today where anything is known of it.
    pub fn days(&self) -> impl DoubleEndedIterator<Item = &Day> + ExactSizeIterator {
        self.days.iter()
    }

    /// Whole days before today.
    pub fn whole_days(&self, today: NaiveDate) -> impl Iterator<Item = &Day> {
        self.days.iter().filter(move |day| day.date < today && day.is_whole())
    }

    /// Whole days before today on which it could drink as it usually does.
    pub fn usual_days(&self, today: NaiveDate) -> impl Iterator<Item = &Day> {
        self.whole_days(today).filter(|day| day.could_drink())
    }

    /// Minutes passed in which it had frozen for long; its water may have been `ice`.
    pub fn froze(&mut self, date: NaiveDate, minutes: u16, ice: bool) {
        if let Some(day) = self.day(date) {
            day.frost_min += minutes;
            day.ice_min += if ice { minutes } else { 0 };
        }
    }

    /// Whether ice may be why it drank little of late.
    pub fn could_not_drink(&self, today: NaiveDate) -> bool {
        let near = self.days.iter().filter(|day| day.date == today || Some(day.date) == today.pred_opt());
        near.map(|day| u32::from(day.ice_min)).sum::<u32>() >= ICE_MIN
    }

    /// Litres of each hour of today up to and with this one; zeros where nothing is known of it.
    pub fn hours(&self, today: NaiveDate, hour: usize) -> impl Iterator<Item = Litres> {
        let day = self.days.iter().rfind(|day| day.date == today);
        (0..=hour.min(23)).map(move |hour| Litres(day.map_or(0.0, |day| day.litres[hour].max(0.0))))
    }

    /// Litres of each of the days before today that are kept, the oldest first; none for one that was not seen whole.
    pub fn days_before(&self, today: NaiveDate) -> impl Iterator<Item = Option<Litres>> {
        let mut whole = self.whole_days(today).peekable();
        (1..DAYS as u64).rev().map(move |back| {
            let date = today.checked_sub_days(Days::new(back))?;
            while whole.next_if(|day| day.date < date).is_some() {}
            whole.next_if(|day| day.date == date).map(Day::total)
        })
    }

    /// What it usually drinks in a day; none before [`HABIT_DAYS`] whole ones without a day of ice.
    pub fn habit(&self, today: NaiveDate) -> Option<Habit> {
        let totals: Vec<f64> = self.usual_days(today).map(|day| day.total().get()).collect();
        if totals.len() < HABIT_DAYS {
            return None;
        }
        let middle = median(totals.iter().copied())?;
        let spread = 1.4826 * median(totals.iter().map(|litres| (litres - middle).abs()))?;
        Some(Habit { litres: Litres(middle), spread: Litres(spread), days: totals.len() as u32 })
    }

    /// The longest time that it usually stands in its stall without drinking, in minutes: of its whole days the second
    /// longest, as one may have been a sensor's fault; none before [`HABIT_DAYS`].
    pub fn longest_dry_min(&self, today: NaiveDate) -> Option<u32> {
        let mut longest: Vec<u32> = self.usual_days(today).map(|day| day.longest_dry_min).collect();
        longest.sort_unstable();
        (longest.len() >= HABIT_DAYS).then(|| longest[longest.len() - 2])
    }

    /// Litres that it would have drunk since it last did, by its whole days, up to a minute of today (0 to 1439); none before
    /// [`HABIT_DAYS`]. At most a day is looked back.
    pub fn missed(&self, today: NaiveDate, minute: u16) -> Option<f64> {
        let days: Vec<&Day> = self.usual_days(today).collect();
        if days.len() < HABIT_DAYS {
            return None;
        }
        let mean = |hour: usize| days.iter().map(|day| day.litres[hour]).sum::<f64>() / days.len() as f64;
        let (mut left, mut at, mut litres) = (self.dry_min.min(1_440), u32::from(minute), 0.0);
        while left > 0 {
            // Of this hour so much is past.
            let part = if at.is_multiple_of(60) { 60 } else { at % 60 }.min(left);
            let hour = (at + 1_440 - 1) % 1_440 / 60;
            litres += mean(hour as usize) * f64::from(part) / 60.0;
            left -= part;
            at = (at + 1_440 - part) % 1_440;
        }
        Some(litres)
    }

    /// Litres of the last 24 hours, up to and with this hour of today; none where too little of them was seen.
    pub fn last_24_h(&self, today: NaiveDate, hour: usize) -> Option<Litres> {
        let day = |date: NaiveDate| self.days.iter().find(|day| day.date == date);
        let (now, before) = (day(today)?, day(today.pred_opt()?)?);
        let hour = hour.min(23);
        let litres = now.litres[..=hour].iter().chain(&before.litres[hour + 1..]).sum::<f64>();
        let known: u32 =
            now.known_min[..=hour].iter().chain(&before.known_min[hour + 1..]).map(|m| u32::from(*m)).sum();
        // The hour that has begun is not over: an hour may be missing besides the tenth.
        (known + 60 >= WHOLE_DAY_MIN).then_some(Litres(litres.max(0.0)))
    }

    fn day(&mut self, date: NaiveDate) -> Option<&mut Day> {
        let at = match self.days.binary_search_by_key(&date, |day| day.date) {
            Ok(at) => at,
            // Before all that is kept: nobody asks for it any more.
            Err(0) if self.days.len() == DAYS => return None,
            Err(at) => {
                self.days.insert(at, Day::new(date));
                at
            }
        };
        let gone = self.days.len().saturating_sub(DAYS);
        self.days.drain(..gone);
        self.days.get_mut(at - gone)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn date(day: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 6, day).expect("a date")
    }

    /// Whole days of so many litres each, a quarter at 7, 12, 17 and 21 o'clock, in its stall all the while.
    fn horse(days: &[f64]) -> Intake {
        let mut intake = Intake::default();
        for (day, litres) in (1..).zip(days) {
            for hour in 0..24 {
                if matches!(hour, 7 | 12 | 17 | 21) {
                    intake.drank(date(day), hour, litres / 4.0);
                }
                intake.passed(date(day), hour, 60, true);
            }
        }
        intake
    }

    #[test]
    fn a_habit_is_the_middle_of_whole_days_and_needs_five() {
        assert_eq!(horse(&[30.0, 31.0, 29.0, 30.0]).habit(date(5)), None);
        let habit = horse(&[30.0, 31.0, 29.0, 30.0, 60.0]).habit(date(6)).expect("five days");
        assert_eq!((habit.litres, habit.days), (Litres(30.0), 5), "one odd day moves nothing");
        assert!((habit.spread.get() - 1.4826).abs() < 1e-9);
        let mut half = horse(&[30.0, 31.0, 29.0, 30.0, 30.0]);
        half.drank(date(6), 7, 3.0);
        half.passed(date(6), 7, 60, true);
        assert_eq!(half.habit(date(7)).map(|habit| habit.days), Some(5), "a day that was hardly seen is none");
    }

    #[test]
    fn a_day_of_ice_shows_no_habit() {
        let mut intake = horse(&[30.0, 30.0, 30.0, 30.0, 30.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]);
        assert_eq!(intake.habit(date(13)).map(|habit| habit.litres), Some(Litres(0.0)));
        for day in 6..=11 {
            intake.froze(date(day), 720, false);
        }
        assert_eq!(intake.habit(date(13)).map(|habit| habit.days), Some(6), "in frost it drinks, or it could not");
        intake.froze(date(12), 240, true);
        assert_eq!(intake.habit(date(13)).map(|habit| (habit.litres, habit.days)), Some((Litres(30.0), 5)));
        assert_eq!([12, 13, 14].map(|day| intake.could_not_drink(date(day))), [true, true, false]);
        assert_eq!(intake.days_before(date(13)).flatten().count(), 12, "they are shown all the same");
    }

    #[test]
    fn hours_and_days_are_told_as_they_were() {
        let mut intake = horse(&[28.0, 20.0, 24.0]);
        intake.drank(date(4), 6, 3.0);
        intake.drank(date(4), 8, -0.5);
        let litres = |list: Vec<Litres>| list.into_iter().map(Litres::get).collect::<Vec<_>>();
        assert_eq!(litres(intake.hours(date(4), 8).collect()), [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 3.0, 0.0, 0.0]);
        assert_eq!(litres(intake.hours(date(9), 1).collect()), [0.0, 0.0]);
        let days: Vec<_> = intake.days_before(date(4)).map(|litres| litres.map(Litres::get)).collect();
        assert_eq!(days.len(), 14);
        assert_eq!(days[11..], [Some(28.0), Some(20.0), Some(24.0)]);
        assert!(days[..11].iter().all(Option::is_none));
        let later: Vec<_> = intake.days_before(date(6)).map(|litres| litres.map(Litres::get)).collect();
        assert_eq!(later[9..], [Some(28.0), Some(20.0), Some(24.0), None, None], "a day that was hardly seen is none");
    }

    #[test]
    fn the_last_day_and_night_goes_over_midnight() {
        let mut intake = horse(&[28.0, 28.0]);
        for hour in 0..=9 {
            intake.passed(date(3), hour, 60, true);
        }
        intake.drank(date(3), 8, 5.0);
        // 21 L from noon to midnight of the day before, and 5.
        assert_eq!(intake.last_24_h(date(3), 9), Some(Litres(26.0)));
        assert_eq!(Intake::default().last_24_h(date(3), 9), None);
    }

    #[test]
    fn only_time_in_its_stall_counts_and_sips_add_up() {
        let mut intake = horse(&[28.0]);
        assert_eq!(intake.dry_min(), 3 * 60);
        intake.passed(date(2), 0, 60, false);
        intake.passed(date(2), 1, 60, true);
        assert_eq!(intake.dry_min(), 4 * 60, "an hour of turn-out is left out");
        assert!(!intake.drank(date(2), 2, 0.3) && !intake.drank(date(2), 2, 0.2));
        assert_eq!(intake.dry_min(), 4 * 60);
        assert!(intake.drank(date(2), 2, 0.2));
        assert_eq!(intake.dry_min(), 0);
    }

    #[test]
    fn what_it_has_missed_is_told_by_its_own_hours() {
        let mut intake = horse(&[28.0; 6]);
        // It last drank at nine in the evening; at eight in the morning it has missed the drink of seven o'clock.
        for hour in 0..8 {
            intake.passed(date(7), hour, 60, true);
        }
        assert_eq!(intake.dry_min(), 11 * 60);
        assert_eq!(intake.missed(date(7), 8 * 60), Some(14.0), "that of 21 o'clock and that of 7");
        assert_eq!(intake.longest_dry_min(date(7)), Some(10 * 60));
    }

    #[test]
    fn two_weeks_are_kept() {
        let mut intake = horse(&[28.0; 20]);
        assert_eq!((intake.days().len(), intake.days().next().map(|day| day.date)), (15, Some(date(6))));
        intake.drank(date(2), 5, 9.0);
        assert_eq!(intake.days().next().map(|day| day.date), Some(date(6)), "older than all that is kept");
    }
}
