//! When something was, so that it can be told how long ago also after the kiosk has started again.
//!
//! Within one run of the system the clock that counts from its start is exact, over restarts of the kiosk too, and no matter
//! how the time of day is set meanwhile. Over a restart of the system there is only the time of day: right where the clock was
//! right both times. A board without a clock of its own does not know; then nobody is told a guess.

use std::time::{Duration, SystemTime};

use rustix::time::{ClockId, clock_gettime};
use serde::{Deserialize, Serialize};

/// The time of day is believed from 2025 on: a board that was never told begins with 1970 or with the day its system was built.
const BELIEVED_FROM_MS: u64 = 1_735_689_600_000;

/// A moment, by both clocks.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Moment {
    /// Which run of the system; empty where that can not be told.
    run: String,
    /// Milliseconds since it began, sleep included.
    since_start_ms: u64,
    /// Milliseconds since 1970; none where the clock was not set.
    wall_ms: Option<u64>,
}

impl Moment {
    /// Now.
    pub fn now() -> Self {
        let run = std::fs::read_to_string("/proc/sys/kernel/random/boot_id").unwrap_or_default();
        let since_start = clock_gettime(ClockId::Boottime);
        let wall = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH).unwrap_or_default();
        let wall_ms = u64::try_from(wall.as_millis()).unwrap_or(u64::MAX);
        let whole_ms = u64::try_from(since_start.tv_sec).unwrap_or(0) * 1000;
        Self {
            run: run.trim().to_owned(),
            since_start_ms: whole_ms + u64::try_from(since_start.tv_nsec).unwrap_or(0) / 1_000_000,
            wall_ms: Some(wall_ms).filter(|wall| *wall >= BELIEVED_FROM_MS),
        }
    }

    /// How long before `now` this was; none where it can not be known. Never less than nothing: a clock may have been set back.
    pub fn before(&self, now: &Moment) -> Option<Duration> {
        let ms = if self.run == now.run && !self.run.is_empty() {
            now.since_start_ms.saturating_sub(self.since_start_ms)
        } else {
            now.wall_ms?.saturating_sub(self.wall_ms?)
        };
        Some(Duration::from_millis(ms))
    }

    /// So much later, in the same run. For tests.
    #[cfg(test)]
    pub fn later(&self, by: Duration) -> Self {
        let by = u64::try_from(by.as_millis()).unwrap_or(u64::MAX);
        Self { since_start_ms: self.since_start_ms + by, wall_ms: self.wall_ms.map(|wall| wall + by), ..self.clone() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn moment(run: &str, since_start_ms: u64, wall_ms: Option<u64>) -> Moment {
        Moment { run: run.to_owned(), since_start_ms, wall_ms }
    }

    #[test]
    fn how_long_ago_it_was() {
        let noon = BELIEVED_FROM_MS + 43_200_000;
        let touched = moment("a", 5_000, Some(noon));
        let table = [
            ("the same run", moment("a", 95_000, Some(noon + 90_000)), Some(90)),
            ("the clock was set meanwhile", moment("a", 95_000, Some(noon + 7_290_000)), Some(90)),
            ("it was set back", moment("a", 95_000, Some(noon - 9_000)), Some(90)),
            ("another run", moment("b", 10_000, Some(noon + 60_000)), Some(60)),
            ("another run, set back", moment("b", 10_000, Some(noon - 60_000)), Some(0)),
            ("another run that has no clock", moment("b", 10_000, None), None),
            ("a run that can not be told", moment("", 10_000, None), None),
        ];
        for (what, now, seconds) in table {
            assert_eq!(touched.before(&now).map(|ago| ago.as_secs()), seconds, "{what}");
        }
        let unset = moment("a", 5_000, None);
        assert_eq!(unset.before(&moment("b", 10_000, Some(noon))), None, "it was not set then");
        assert_eq!(unset.before(&moment("a", 10_000, Some(noon))), Some(Duration::from_secs(5)));
        assert_eq!(moment("", 1, None).before(&moment("", 2, None)), None, "two unknown runs are not one");
    }

    #[test]
    fn now_is_after_what_was_before() {
        let first = Moment::now();
        assert!(!first.run.is_empty(), "Linux tells its runs apart");
        let ago = first.before(&Moment::now()).expect("the same run");
        assert!(ago < Duration::from_secs(600), "{ago:?}");
    }
}
