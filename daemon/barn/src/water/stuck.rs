//! A sensor that says the same to the last digit, again and again. A live one repeats itself too, now and then, the coarse
//! one more often than the fine; so each is held against its own habit.

use serde::{Deserialize, Serialize};

/// A run of equal readings is no accident where its chance is below this for each minute between two readings: a barn of
/// twenty hears some 200,000 readings a week of sensors that speak every minute, and a tenth of that of slower ones.
const CHANCE: f64 = 1e-7;
/// Fewer equal readings than this are never enough,
const RUN: u32 = 8;
/// nor is less time than this, in minutes: sensors that speak every second see quiet water.
const MINUTES: u64 = 30;
/// Each reading moves the habit by this share.
const LEARNS: f64 = 1.0 / 250.0;
/// A sensor that nobody has watched yet is taken to repeat itself so often.
const FIRST: f64 = 0.93;
/// The habit is never taken to be outside of these: what was not seen yet may still come.
const HABITS: (f64, f64) = (0.12, 0.985);

/// How one sensor repeats itself.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Repeats {
    last: Option<f64>,
    /// How many times in a row the last reading was repeated, and since when, in milliseconds.
    run: u32,
    since: u64,
    /// Share of readings that equal the one before.
    habit: f64,
}

impl Default for Repeats {
    fn default() -> Self {
        Self { last: None, run: 0, since: 0, habit: FIRST }
    }
}

impl Repeats {
    /// Takes a reading as it came, and when in milliseconds.
    pub fn take(&mut self, reading: f64, at: u64) {
        let same = self.last == Some(reading);
        if same {
            self.run += 1;
        } else {
            self.run = 0;
            self.since = at;
        }
        // A long run is what is looked for: it must not become the habit.
        if self.last.is_some() && self.run <= RUN {
            self.habit += LEARNS * (f64::from(u8::from(same)) - self.habit);
        }
        self.last = Some(reading);
    }

    /// The last reading.
    pub fn last(&self) -> Option<f64> {
        self.last
    }

    /// True where it has said the same for so long that it can be no accident.
    pub fn is_stuck(&self, now: u64) -> bool {
        let lasted = now.saturating_sub(self.since);
        if self.run < RUN || lasted < MINUTES * 60_000 {
            return false;
        }
        let habit = self.habit.clamp(HABITS.0, HABITS.1);
        let minutes_apart = (lasted as f64 / f64::from(self.run) / 60_000.0).max(1.0);
        f64::from(self.run) * habit.ln() < (CHANCE * minutes_apart).ln()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// After so many readings of which a share repeats itself: how many equal ones a minute apart until it is stuck.
    fn until_stuck(live: u32, repeat_each: u32) -> u32 {
        let mut repeats = Repeats::default();
        let mut value = 0.0;
        for n in 0..live {
            if n % repeat_each == 0 {
                value += 1.0;
            }
            repeats.take(value, u64::from(n) * 60_000);
            assert!(!repeats.is_stuck(u64::from(n) * 60_000), "it was alive");
        }
        let mut run = 0;
        while !repeats.is_stuck(u64::from(live + run) * 60_000) {
            repeats.take(value, u64::from(live + run) * 60_000);
            run += 1;
            assert!(run < 5000, "never");
        }
        run
    }

    #[test]
    fn the_finer_a_sensor_the_sooner_it_is_known_to_be_stuck() {
        assert!((25..=40).contains(&until_stuck(2000, 1)), "half an hour at the least: {}", until_stuck(2000, 1));
        let coarse = until_stuck(2000, 5);
        assert!((60..=120).contains(&coarse), "four in five are repeats: {coarse}");
    }

    #[test]
    fn a_new_sensor_is_given_time() {
        assert!(until_stuck(2, 1) > 200);
    }
}
