//! The two clocks of the hub. The only place in the hub that reads the time of day.
//!
//! [`Mono`] runs on over a restart: it begins where the journal's last entry left it, and the time that passed between is
//! added as far as the wall clocks of both know it. The demo's clock runs a chosen number of times as fast, and in no
//! other way differs.
//!
//! Where the system's clock can not be right, as on a board that boots without one, staff may say what time it is: then the
//! wall clock is that and the running one, until the system's own can be believed. All clones of a clock follow. The hub's
//! user needs no right to set the system's clock, which others on the board may rely on.

mod by_hand;

use std::fmt;
use std::io;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use bellmare_barn::input::ClockSource;
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
    /// What the wall clock said when this clock started, in milliseconds, by whoever set it by hand; [`NOBODY`].
    by_hand: Arc<AtomicI64>,
    /// Where that is kept over a restart of the hub.
    kept: Option<Arc<Path>>,
}

/// Nobody has set the clock by hand.
const NOBODY: i64 = i64::MIN;

/// Tells what the system's clock says.
type SystemClock = dyn Fn() -> SystemTime + Send + Sync;

#[derive(Clone)]
enum Source {
    /// The system's own.
    System(Arc<SystemClock>),
    /// A made-up one that began at `from` and runs `speed` times as fast as the system's.
    Hurried { from: Wall, speed: u32 },
}

impl Clock {
    /// The system's clock. `last` is when the journal's last entry was taken.
    pub fn system(last: Option<Now>) -> Self {
        Self::over(SystemTime::now, last)
    }

    /// A clock over a system's clock that is told by `system`.
    pub fn over(system: impl Fn() -> SystemTime + Send + Sync + 'static, last: Option<Now>) -> Self {
        Self::new(Source::System(Arc::new(system)), last, None)
    }

    /// The system's clock, and what staff have set by hand since the board booted, as kept in a file of this folder.
    pub fn system_with(data: &Path, last: Option<Now>) -> Self {
        Self::over_with(SystemTime::now, data, last)
    }

    /// As [`system_with`](Self::system_with), over a system's clock that is told by `system`.
    pub fn over_with(system: impl Fn() -> SystemTime + Send + Sync + 'static, data: &Path, last: Option<Now>) -> Self {
        Self::new(Source::System(Arc::new(system)), last, Some(data.join(by_hand::FILE).into()))
    }

    /// A clock that begins at `from` and runs `speed` times as fast.
    pub fn hurried(from: Wall, speed: u32, last: Option<Now>) -> Self {
        Self::new(Source::Hurried { from, speed: speed.max(1) }, last, None)
    }

    fn new(source: Source, last: Option<Now>, kept: Option<Arc<Path>>) -> Self {
        let by_hand = kept.as_deref().and_then(by_hand::read).map_or(NOBODY, |wall| wall.0);
        let by_hand = Arc::new(AtomicI64::new(by_hand));
        let mut clock = Self { started: Instant::now(), zero: Mono(0), source, by_hand, kept };
        if let Some(last) = last {
            clock.zero = continued(last, clock.now().wall);
        }
        clock
    }

    /// Now, on both clocks.
    pub fn now(&self) -> Now {
        let elapsed = u64::try_from(self.started.elapsed().as_millis()).unwrap_or(u64::MAX);
        match &self.source {
            Source::System(system) => {
                let wall = believable(system()).or_else(|| self.set_by_hand(elapsed));
                Now { mono: self.zero.plus(elapsed), wall: wall.map_or(WallClock::Unset, WallClock::Set) }
            }
            Source::Hurried { from, speed } => {
                let elapsed = elapsed.saturating_mul(u64::from(*speed));
                Now { mono: self.zero.plus(elapsed), wall: WallClock::Set(from.plus(elapsed as i64)) }
            }
        }
    }

    /// Where the wall clock comes from now.
    pub fn source(&self) -> ClockSource {
        match &self.source {
            Source::System(system) if believable(system()).is_none() && self.set_by_hand(0).is_some() => {
                ClockSource::ByHand
            }
            _ => ClockSource::System,
        }
    }

    /// Staff say what the wall clock says now. It counts as long as the system's own can not be believed.
    ///
    /// # Errors
    /// Where it can not be kept: it counts all the same, and is forgotten when the hub ends.
    pub fn set(&self, wall: Wall) -> io::Result<()> {
        let elapsed = i64::try_from(self.started.elapsed().as_millis()).unwrap_or(i64::MAX);
        self.by_hand.store(wall.plus(-elapsed).0, Ordering::Relaxed);
        self.kept.as_deref().map_or(Ok(()), |file| by_hand::write(file, wall))
    }

    /// The wall clock so long after this clock started, where it was set by hand.
    fn set_by_hand(&self, elapsed: u64) -> Option<Wall> {
        let began = self.by_hand.load(Ordering::Relaxed);
        (began != NOBODY).then(|| Wall(began).plus(i64::try_from(elapsed).unwrap_or(i64::MAX)))
    }

    /// The moment at which the running clock will read `at`: the past, if it has.
    pub fn when(&self, at: Mono) -> Instant {
        self.started + self.real(at.since(self.zero))
    }

    /// How long the barn's milliseconds take.
    pub fn real(&self, millis: u64) -> Duration {
        match &self.source {
            Source::System(_) => Duration::from_millis(millis),
            // Rounded up: a deadline must be past when it is looked at.
            Source::Hurried { speed, .. } => {
                Duration::from_micros(millis.saturating_mul(1000).div_ceil(u64::from(*speed)))
            }
        }
    }
}

impl fmt::Debug for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Source::System(_) => f.write_str("System"),
            Source::Hurried { from, speed } => {
                f.debug_struct("Hurried").field("from", from).field("speed", speed).finish()
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

/// What a system's clock says, where that can be right.
fn believable(system: SystemTime) -> Option<Wall> {
    let since = system.duration_since(UNIX_EPOCH).unwrap_or_default();
    let wall = Wall(i64::try_from(since.as_millis()).unwrap_or(i64::MAX));
    (wall >= NOT_BEFORE).then_some(wall)
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

    /// A system's clock that stands until it is moved.
    fn moved(system: &Arc<AtomicI64>) -> impl Fn() -> SystemTime + Send + Sync + 'static {
        let system = Arc::clone(system);
        move || UNIX_EPOCH + Duration::from_millis(system.load(Ordering::Relaxed).cast_unsigned())
    }

    fn near(clock: &Clock, wall: Wall) -> bool {
        clock.now().wall.get().is_some_and(|now| (0..60_000).contains(&now.since(wall)))
    }

    #[test]
    fn what_was_set_by_hand_counts_until_the_system_can_be_believed_and_over_a_restart() {
        let data = tempfile::tempdir().expect("a folder");
        let system = Arc::new(AtomicI64::new(5_000));
        let noon = Wall(1_800_000_000_000);
        let clock = Clock::over_with(moved(&system), data.path(), None);
        assert_eq!((clock.now().wall, clock.source()), (WallClock::Unset, ClockSource::System));
        let clone = clock.clone();
        clock.set(noon).expect("kept");
        assert!(near(&clock, noon) && near(&clone, noon));
        assert_eq!(clone.source(), ClockSource::ByHand);
        // The hub ends and starts again on the same board: the board's running time goes on.
        let again = Clock::over_with(moved(&system), data.path(), Some(clock.now()));
        assert!(near(&again, noon) && again.now().mono >= clock.now().mono);
        assert_eq!(again.source(), ClockSource::ByHand);
        // The system's clock is set: it counts, whatever the hand said.
        let right = Wall(1_800_003_600_000);
        system.store(right.0, Ordering::Relaxed);
        assert_eq!((again.now().wall, again.source()), (WallClock::Set(right), ClockSource::System));
    }

    #[test]
    fn after_another_boot_or_with_a_broken_file_nothing_is_set() {
        let data = tempfile::tempdir().expect("a folder");
        let file = data.path().join(by_hand::FILE);
        Clock::over_with(|| UNIX_EPOCH, data.path(), None).set(Wall(1_800_000_000_000)).expect("kept");
        let kept = std::fs::read_to_string(&file).expect("a file");
        let boot = std::fs::read_to_string("/proc/sys/kernel/random/boot_id").expect("this system's boot");
        let another = kept.replace(boot.trim(), "11111111-2222-3333-4444-555555555555");
        assert_ne!(another, kept);
        for text in [another.as_str(), "", "{", "{\"boot\":3}"] {
            std::fs::write(&file, text).expect("written");
            let clock = Clock::over_with(|| UNIX_EPOCH, data.path(), None);
            assert_eq!((clock.now().wall, clock.source()), (WallClock::Unset, ClockSource::System), "{text:?}");
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
