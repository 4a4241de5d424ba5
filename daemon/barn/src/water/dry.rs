//! When will it be empty? Asked of the horse's own last days: each is played from this hour on, and says how long the
//! water would last if it drank as it did then. The middle of the answers is the estimate, their spread is its range.

use chrono::NaiveDate;

use super::intake::{Day, Intake};
use crate::units::Litres;

/// Days that must answer before anything is said.
const DAYS: usize = 3;
/// Nothing is said of what lies further ahead, in minutes.
pub const AHEAD_MIN: u32 = 24 * 60;

/// When water will be gone, in minutes from now. Each is none where it lies more than [`AHEAD_MIN`] ahead.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct RunsDry {
    /// One day in ten it was gone before this.
    pub earliest: Option<u32>,
    /// On the middle day.
    pub usual: Option<u32>,
    /// One day in ten it lasted longer than this.
    pub latest: Option<u32>,
    /// How many days were asked.
    pub days: u32,
}

/// How long so many litres last, from a minute of today (0 to 1439) on; none while too few days are known.
pub fn runs_dry(intake: &Intake, litres: Litres, today: NaiveDate, minute: u32) -> Option<RunsDry> {
    let days: Vec<&Day> = intake.usual_days(today).collect();
    let mut lasts: Vec<u32> = days
        .windows(2)
        .filter(|pair| pair[0].date.succ_opt() == Some(pair[1].date))
        .map(|pair| lasts(pair[0], pair[1], litres.get(), minute))
        .collect();
    if lasts.len() < DAYS {
        return None;
    }
    lasts.sort_unstable();
    let at = |share: f64| {
        let minutes = lasts[((lasts.len() - 1) as f64 * share).round() as usize];
        (minutes < AHEAD_MIN).then_some(minutes)
    };
    Some(RunsDry { earliest: at(0.1), usual: at(0.5), latest: at(0.9), days: lasts.len() as u32 })
}

/// Minutes until so many litres are drunk as on that day and the next, from a minute of the day on.
fn lasts(day: &Day, next: &Day, litres: f64, from: u32) -> u32 {
    let mut left = litres;
    let from = from.min(24 * 60 - 1);
    let mut minute = from;
    while minute < from + AHEAD_MIN {
        let hour = (minute / 60) as usize;
        let in_hour = if hour < 24 { day.litres[hour] } else { next.litres[(hour - 24).min(23)] }.max(0.0);
        // Of the hour that has begun, the part that is left.
        let minutes = 60 - minute % 60;
        let drunk = in_hour * f64::from(minutes) / 60.0;
        if drunk >= left {
            return minute - from + if drunk > 0.0 { (f64::from(minutes) * left / drunk) as u32 } else { 0 };
        }
        left -= drunk;
        minute += minutes;
    }
    AHEAD_MIN
}

#[cfg(test)]
mod tests {
    use super::*;

    fn date(day: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 6, day).expect("a date")
    }

    /// A horse that drinks so many litres at 7 and at 19 o'clock, day by day.
    fn horse(days: &[f64]) -> Intake {
        let mut intake = Intake::default();
        for (n, litres) in (1..).zip(days) {
            for hour in 0..24 {
                intake.passed(date(n), hour, 60, true);
            }
            intake.drank(date(n), 7, *litres);
            intake.drank(date(n), 19, *litres);
        }
        intake
    }

    #[test]
    fn its_own_days_say_when() {
        let intake = horse(&[10.0, 10.0, 10.0, 10.0, 10.0, 10.0]);
        // At 6:00 with 5 L: half of what it drinks from 7 to 8.
        let found = runs_dry(&intake, Litres(5.0), date(7), 6 * 60).expect("five days answer");
        assert_eq!(found, RunsDry { earliest: Some(90), usual: Some(90), latest: Some(90), days: 5 });
        // With 15 L in the middle of the evening's hour: 5 L then, and the whole morning's.
        let found = runs_dry(&intake, Litres(15.0), date(7), 19 * 60 + 30).expect("five days answer");
        assert_eq!(found.usual, Some(12 * 60 + 30));
        let found = runs_dry(&intake, Litres(50.0), date(7), 6 * 60).expect("five days answer");
        assert_eq!(found.usual, None, "not within a day");
    }

    #[test]
    fn the_range_is_that_of_its_days() {
        let intake = horse(&[4.0, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0, 20.0, 22.0, 24.0, 26.0]);
        let found = runs_dry(&intake, Litres(6.0), date(13), 6 * 60).expect("eleven days answer");
        let (earliest, usual, latest) = (found.earliest, found.usual, found.latest);
        assert!(earliest < usual && usual < latest, "{found:?}");
        assert_eq!(usual, Some(60 + 60 * 6 / 14));
    }

    #[test]
    fn too_few_days_say_nothing() {
        assert_eq!(runs_dry(&horse(&[10.0, 10.0, 10.0]), Litres(5.0), date(4), 0), None);
    }
}
