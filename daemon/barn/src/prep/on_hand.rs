//! Who can be counted on, from when until when: who is here, by badge or touch, and who is expected by the shift sheet.

use crate::book::{Book, Person, Role};
use crate::id::PersonId;
use crate::limits::PlanLimits;
use crate::shift::Shift;
use crate::time::{LocalDay, Today};

/// Who comes so many minutes before their turn is taken to begin it.
const EARLY: i64 = 60;
/// Somebody who is still here after their turn is counted on for so long.
const OVERTIME: i64 = 30;
/// Somebody who is here is counted on for this long at least.
const AT_LEAST: i64 = 60;

/// Minutes of the day from which until which somebody is counted on.
pub type Span = (i64, i64);

/// Everybody who readies horses: grooms with a clearance.
pub fn grooms(book: &Book) -> impl Iterator<Item = &Person> {
    book.people.values().filter(|person| person.role == Role::Groom && person.grade > 0)
}

/// When the shift sheet expects a person, in order of time.
pub fn sheet(book: &Book, person: &PersonId, day: LocalDay) -> Vec<Span> {
    let lines = book.shifts.iter().filter(|line| line.person == *person && line.days.include(day.date()));
    joined(lines.map(|line| (day.minute_of(line.from), day.minute_of(line.to))).collect())
}

/// When a person was, is and will be here today, as far as can be told.
pub fn expected(book: &Book, shift: &Shift, person: &PersonId, today: &Today, limits: &PlanLimits) -> Vec<Span> {
    let sheet = sheet(book, person, today.day());
    let now = today.now();
    // A barn in which nobody has tapped today may have no readers: then the sheet is all there is.
    let unwatched = !shift.anybody();
    let stays = shift.stays(person);
    let mut spans = Vec::new();
    let mut here_until = None;
    let mut left = i64::MIN;
    for stay in &stays {
        let from = today.minute(stay.from);
        let until = match stay.until {
            Some(at) => {
                left = today.minute(at);
                left
            }
            None => {
                let until = stays_until(from, now, &sheet, limits);
                here_until = Some(until);
                until
            }
        };
        spans.push((from, until));
    }
    for (from, to) in sheet {
        let waited = from + i64::from(limits.waited_for.0);
        match here_until {
            Some(until) if to > until => spans.push((from.max(until), to)),
            Some(_) => {}
            // Who left during a turn has gone home; one that has not begun still counts.
            None if now < to && (now < waited || unwatched) && left < from => spans.push((from.max(now), to)),
            None => {}
        }
    }
    joined(spans)
}

/// Until when somebody stays who is here now.
fn stays_until(since: i64, now: i64, sheet: &[Span], limits: &PlanLimits) -> i64 {
    let turn = sheet.iter().find(|(from, to)| from - EARLY <= now && now < *to);
    match turn {
        Some((_, to)) => *to,
        None if sheet.iter().any(|(from, to)| since < *to && *from <= now) => now + OVERTIME,
        None => (since + i64::from(limits.stays.0)).max(now + AT_LEAST),
    }
}

/// In order of time, those that touch made one.
fn joined(mut spans: Vec<Span>) -> Vec<Span> {
    spans.retain(|(from, to)| from < to);
    spans.sort_unstable();
    let mut joined: Vec<Span> = Vec::new();
    for (from, to) in spans {
        match joined.last_mut() {
            Some((_, before)) if from <= *before => *before = to.max(*before),
            _ => joined.push((from, to)),
        }
    }
    joined
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::book::{Days, Expected};
    use crate::limits::{Limits, ShiftLimits};
    use crate::time::{Mono, Now, TimeOfDay, WallClock, Zone};

    const ZONE: Zone = Zone(chrono_tz::America::New_York);

    fn time(minute: u16) -> TimeOfDay {
        TimeOfDay::from_minutes(minute).expect("a time")
    }

    /// Sheet lines and taps as minutes of the day, what minute it is, and when Ana is counted on.
    fn check(lines: &[(u16, u16)], taps: &[u64], now: u64, expected_spans: &[Span]) {
        let date = chrono::NaiveDate::from_ymd_opt(2026, 6, 18).expect("a date");
        let line = |(from, to): &(u16, u16)| Expected {
            person: "ana".into(),
            days: Days::On(date),
            from: time(*from),
            to: time(*to),
        };
        let book = Book { shifts: lines.iter().map(line).collect(), ..Book::default() };
        let mut shift = Shift::default();
        shift.say(&"lena".into(), true, Mono(1));
        for tap in taps {
            shift.tap(&"ana".into(), Mono(tap * 60_000), &ShiftLimits { same_tap_s: 5, day_ends: time(1380) });
        }
        let wall = ZONE.instant(date, time(0)).plus(now as i64 * 60_000);
        let now = Now { mono: Mono(now * 60_000), wall: WallClock::Set(wall) };
        let today = Today::of(ZONE, now).expect("a clock");
        let found = expected(&book, &shift, &"ana".into(), &today, &Limits::default().plan);
        assert_eq!(found, expected_spans, "sheet {lines:?}, taps {taps:?}");
    }

    #[test]
    fn the_sheet_counts_until_somebody_is_late() {
        check(&[(480, 720)], &[], 470, &[(480, 720)]);
        check(&[(480, 720)], &[], 494, &[(494, 720)]);
        check(&[(480, 720)], &[], 495, &[]);
        check(&[(480, 720), (840, 960)], &[], 600, &[(840, 960)]);
    }

    #[test]
    fn who_is_here_counts_until_their_turn_ends() {
        check(&[(480, 720)], &[470], 600, &[(470, 720)]);
        check(&[(480, 720)], &[430], 440, &[(430, 720)]);
        check(&[(480, 720)], &[470], 725, &[(470, 755)]);
        check(&[(480, 720), (840, 960)], &[470], 600, &[(470, 720), (840, 960)]);
        check(&[], &[470], 480, &[(470, 710)]);
        check(&[], &[470], 700, &[(470, 760)]);
    }

    #[test]
    fn who_went_home_counts_no_more_but_for_a_later_turn() {
        check(&[(480, 720)], &[470, 600], 601, &[(470, 600)]);
        check(&[(480, 720), (840, 960)], &[470, 600], 601, &[(470, 600), (840, 960)]);
    }
}
