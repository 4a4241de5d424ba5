//! The two clocks of the hub. The only place in the hub that reads the time of day.
//!
//! [`Mono`] runs on over a restart: it begins where the journal's last entry left it, and the time that passed between is
//! added as far as the wall clocks of both know it. The demo's clock runs a chosen number of times as fast, and in no
//! other way differs.

use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use bellmare_barn::time::{Mono, Now, Wall, WallClock};

/// No wall clock can be right that is before this: 2026-01-01T00:00Z, when this program did not exist. A board that boots
/// without a clock believes in 1970 or in the day its image was made.
const NOT_BEFORE: Wall = Wall(1_767_225_600_000);

/// A wall clock that moved this much more or less than the running one was set or stepped, in milliseconds.
const STEP_MS: u64 = 2_000;

/// The hub's clock.
#[derive(Clone, Debug)]
pub struct Clock {
    started: Instant,
    zero: Mono,
    source: Source,
}

#[derive(Clone, Copy, Debug)]
enum Source {
    /// The system's own.
    System,
    /// A made-up one that began at `from` and runs `speed` times as fast as the system's.
    Hurried { from: Wall, speed: u32 },
}

impl Clock {
    /// The system's clock. `last` is when the journal's last entry was taken.
    pub fn system(last: Option<Now>) -> Self {
        Self::new(Source::System, last)
    }

    /// A clock that begins at `from` and runs `speed` times as fast.
    pub fn hurried(from: Wall, speed: u32, last: Option<Now>) -> Self {
        Self::new(Source::Hurried { from, speed: speed.max(1) }, last)
    }

    fn new(source: Source, last: Option<Now>) -> Self {
        let mut clock = Self { started: Instant::now(), zero: Mono(0), source };
        if let Some(last) = last {
            clock.zero = continued(last, clock.now().wall);
        }
        clock
    }

    /// Now, on both clocks.
    pub fn now(&self) -> Now {
        let elapsed = u64::try_from(self.started.elapsed().as_millis()).unwrap_or(u64::MAX);
        match self.source {
            Source::System => Now { mono: self.zero.plus(elapsed), wall: system_wall() },
            Source::Hurried { from, speed } => {
                let elapsed = elapsed.saturating_mul(u64::from(speed));
                Now { mono: self.zero.plus(elapsed), wall: WallClock::Set(from.plus(elapsed as i64)) }
            }
        }
    }

    /// The moment at which the running clock will read `at`: the past, if it has.
    pub fn when(&self, at: Mono) -> Instant {
        self.started + self.real(at.since(self.zero))
    }

    /// How long the barn's milliseconds take.
    pub fn real(&self, millis: u64) -> Duration {
        match self.source {
            Source::System => Duration::from_millis(millis),
            // Rounded up: a deadline must be past when it is looked at.
            Source::Hurried { speed, .. } => {
                Duration::from_micros(millis.saturating_mul(1000).div_ceil(u64::from(speed)))
            }
        }
    }
}

/// True where the wall clock did something else than run along with the running one between two moments.
pub fn stepped(before: Now, now: Now) -> bool {
    match (before.wall, now.wall) {
        (WallClock::Unset, WallClock::Unset) => false,
        (WallClock::Set(then), WallClock::Set(wall)) => {
            let ran = i64::try_from(now.mono.since(before.mono)).unwrap_or(i64::MAX);
            wall.since(then).abs_diff(ran) > STEP_MS
        }
        _ => true,
    }
}

/// Where the running clock goes on after a restart: never back, and at least one millisecond on.
fn continued(last: Now, wall: WallClock) -> Mono {
    let away = match (last.wall, wall) {
        (WallClock::Set(then), WallClock::Set(now)) => u64::try_from(now.since(then)).unwrap_or(0),
        _ => 0,
    };
    last.mono.plus(away.max(1))
}

fn system_wall() -> WallClock {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    let wall = Wall(i64::try_from(since.as_millis()).unwrap_or(i64::MAX));
    if wall < NOT_BEFORE { WallClock::Unset } else { WallClock::Set(wall) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn now(mono: u64, wall: Option<i64>) -> Now {
        Now { mono: Mono(mono), wall: wall.map_or(WallClock::Unset, |wall| WallClock::Set(Wall(wall))) }
    }

    #[test]
    fn the_running_clock_never_goes_back_over_a_restart() {
        let last = now(5_000, Some(1_800_000_000_000));
        for (wall, mono) in [
            (Some(1_800_000_060_000), 65_000), // a minute away
            (Some(1_700_000_000_000), 5_001),  // the wall clock was set back
            (None, 5_001),                     // no clock: nobody knows how long
        ] {
            let wall = wall.map_or(WallClock::Unset, |wall| WallClock::Set(Wall(wall)));
            assert_eq!(continued(last, wall), Mono(mono), "{wall:?}");
        }
    }

    #[test]
    fn a_step_is_told_from_running_along() {
        for (before, after, is_step) in [
            (now(0, Some(0)), now(60_000, Some(60_100)), false),
            (now(0, Some(0)), now(60_000, Some(3_660_000)), true),
            (now(0, Some(7_200_000)), now(60_000, Some(60_000)), true),
            (now(0, None), now(60_000, Some(60_000)), true),
            (now(0, None), now(60_000, None), false),
        ] {
            assert_eq!(stepped(before, after), is_step, "{before:?} {after:?}");
        }
    }

    #[test]
    fn a_hurried_clock_hurries_both() {
        let from = Wall(1_800_000_000_000);
        let clock = Clock::hurried(from, 60, None);
        assert_eq!(clock.real(60_000), Duration::from_secs(1));
        let now = clock.now();
        assert_eq!(now.wall, WallClock::Set(from.plus(now.mono.0 as i64)));
        assert!(clock.when(Mono(120_000)) >= Instant::now() + Duration::from_millis(1500));
    }
}
