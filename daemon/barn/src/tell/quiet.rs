//! The quiet hours: what can wait is not told in them.

use crate::limits::TellLimits;
use crate::time::{Mono, Now, TimeOfDay, Zone};

/// When the quiet hours in which that moment falls are over; none where it falls in none, or nobody knows what time it is.
pub fn ends(at: Now, zone: Zone, limits: &TellLimits) -> Option<Mono> {
    let wall = at.wall.get()?;
    let time = zone.time_of_day(wall);
    if !within(time, limits.quiet_from, limits.quiet_to) {
        return None;
    }
    let today = zone.date(wall);
    let date = if time < limits.quiet_to { today } else { today.succ_opt()? };
    let ahead = zone.instant(date, limits.quiet_to).since(wall);
    // Where clocks go back over their end it comes twice, and the first of the two counts.
    u64::try_from(ahead).ok().filter(|ahead| *ahead > 0).map(|ahead| at.mono.plus(ahead))
}

/// Whether a time is in the span, which may go over midnight. A span that ends where it begins holds nothing.
fn within(time: TimeOfDay, from: TimeOfDay, to: TimeOfDay) -> bool {
    if from <= to { (from..to).contains(&time) } else { time >= from || time < to }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::WallClock;
    use chrono::NaiveDate;

    const ZONE: Zone = Zone(chrono_tz::America::New_York);

    fn time(hour: u16, minute: u16) -> TimeOfDay {
        TimeOfDay::new(hour, minute).expect("a time")
    }

    #[test]
    fn quiet_hours_go_over_midnight_and_over_the_change_of_clocks() {
        let limits = TellLimits::default();
        // day, time, minutes until the quiet hours are over
        for (month, day, at, left) in [
            (6, 18, time(20, 59), None),
            (6, 18, time(21, 0), Some(540)),
            (6, 18, time(23, 30), Some(390)),
            (6, 19, time(5, 59), Some(1)),
            (6, 19, time(6, 0), None),
            // IANA tzdata: clocks go forward on 2026-03-08 and back on 2026-11-01.
            (3, 7, time(22, 0), Some(420)),
            (10, 31, time(22, 0), Some(540)),
        ] {
            let date = NaiveDate::from_ymd_opt(2026, month, day).expect("a date");
            let now = Now { mono: Mono(7), wall: WallClock::Set(ZONE.instant(date, at)) };
            let ends = ends(now, ZONE, &limits).map(|at| at.since(now.mono) / 60_000);
            assert_eq!(ends, left, "{date} {at}");
        }
        // Half past one comes twice on 2026-11-01: an hour after the first one it is ten past one again, and not quiet.
        let short = TellLimits { quiet_to: time(1, 30), ..TellLimits::default() };
        let first = ZONE.instant(NaiveDate::from_ymd_opt(2026, 11, 1).expect("a date"), time(1, 10));
        let again = Now { mono: Mono(7), wall: WallClock::Set(first.plus(3_600_000)) };
        assert_eq!(super::ends(again, ZONE, &short), None);
        let none = TellLimits { quiet_from: time(21, 0), quiet_to: time(21, 0), ..TellLimits::default() };
        let now = Now { mono: Mono(7), wall: WallClock::Unset };
        assert_eq!(ends(now, ZONE, &limits), None);
        let date = NaiveDate::from_ymd_opt(2026, 6, 18).expect("a date");
        let now = Now { mono: Mono(7), wall: WallClock::Set(ZONE.instant(date, time(21, 0))) };
        assert_eq!(super::ends(now, ZONE, &none), None);
    }
}
