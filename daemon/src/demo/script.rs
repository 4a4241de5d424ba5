//! The demo's day: what goes wrong, when, and where. Each thing that a board can say about a barn comes up between
//! [`BEGINS`] and 13:20, five hours or, at the usual speed, five minutes.
//!
//! Stalls are named by their place among those that have a bucket, so that the script fits any book.

use bellmare_barn::time::TimeOfDay;

/// When the demo's day begins: a Thursday in June, 8:20.
pub(super) const BEGINS: (i32, u32, u32, u16, u16) = (2026, 6, 18, 8, 20);

/// What a sensor or its bucket does at a time.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) enum Turn {
    /// The horse puts its foot in the bucket; nobody sees it.
    Spill,
    /// Somebody fills it at last.
    Fill,
    /// The sensor stops: its battery is dead.
    Stop,
    /// The sensor speaks again.
    Resume,
    /// Straw hangs before the sensor: it reads what can not be.
    Blocked,
    /// The straw is taken away.
    Clear,
    /// The bucket loses so many litres an hour from now on.
    Leak(f64),
    /// The sensor says its last reading again and again.
    Stuck,
    /// The sensor is set right.
    SetRight,
    /// Its line breaks: the broker tells its last will.
    LoseLine,
    /// Its line is back.
    FindLine,
    /// Its battery reads so many percent from now on.
    Battery(f64),
}

/// The bucket that nobody fills on the rounds before it is called out.
pub(super) const FORGOTTEN: usize = 2;
/// The bucket whose sensor was never put in.
pub(super) const NEVER_HEARD: usize = 4;
/// The sensor with a line and a last will of its own.
pub(super) const OWN_LINE: usize = 11;

/// The bucket whose horse does not drink today.
pub(super) const LEFT_ALONE: usize = 8;

/// How full buckets are when the day begins; the rest are nearly full.
pub(super) const SHARES: &[(usize, f64)] = &[(0, 0.55), (1, 0.31), (FORGOTTEN, 0.4), (5, 0.62), (12, 0.28), (13, 0.36)];

/// Hour, minute, which bucket, what.
pub(super) const TURNS: &[(u16, u16, usize, Turn)] = &[
    (8, 45, FORGOTTEN, Turn::Spill),
    (9, 20, FORGOTTEN, Turn::Fill),
    (9, 5, 7, Turn::Stop),
    (9, 50, 7, Turn::Resume),
    (9, 15, 14, Turn::Battery(12.0)),
    (12, 10, 14, Turn::Battery(100.0)),
    (8, 21, 10, Turn::Leak(2.4)),
    (11, 10, 10, Turn::Leak(0.0)),
    (10, 10, 3, Turn::Stuck),
    (12, 0, 3, Turn::SetRight),
    (9, 40, 9, Turn::Blocked),
    (10, 25, 9, Turn::Clear),
    (10, 40, OWN_LINE, Turn::LoseLine),
    (11, 5, OWN_LINE, Turn::FindLine),
    (11, 20, 6, Turn::Spill),
    (11, 50, 6, Turn::Fill),
    (12, 20, 12, Turn::Stop),
];

/// When somebody goes round with the hose and fills what is under [`ROUND_FILLS`].
pub(super) const ROUNDS: &[(u16, u16)] = &[(10, 0), (12, 0), (13, 20)];
/// Buckets under this share are filled on a round.
pub(super) const ROUND_FILLS: f64 = 0.6;

/// When mucking out begins.
pub(super) const MUCKING_OUT: (u16, u16) = (8, 30);
/// Somebody asks whether a horse may have hay, and takes it back.
pub(super) const HAY_ASKED: (u16, u16) = (9, 20);
/// Somebody asks again, and nobody answers.
pub(super) const HAY_NOT_ANSWERED: (u16, u16) = (12, 50);
/// Somebody finds a warm leg.
pub(super) const SOMETHING_WRONG: (u16, u16) = (12, 0);

/// A stranger holds a badge that nobody knows to the reader, and again each minute, so often.
pub(super) const STRANGER: (u16, u16, u16, &str) = (8, 55, 5, "7F00FF7F");
/// A device that no rule places begins to talk.
pub(super) const UNPLACED: (u16, u16) = (9, 0);
/// A payload that is no reading.
pub(super) const GARBLED: (u16, u16) = (9, 2);
/// The broker goes away, and is back.
pub(super) const BROKER_GOES: (u16, u16) = (12, 35);
/// It is back.
pub(super) const BROKER_BACK: (u16, u16) = (12, 45);

/// Hour, minute, degrees Fahrenheit and percent humidity in the arena: a mild morning, a close noon, a thunderstorm.
const AIR: &[(u16, u16, f64, f64)] = &[
    (8, 0, 66.0, 58.0),
    (8, 50, 68.0, 60.0),
    (9, 30, 76.0, 66.0),
    (10, 30, 82.0, 65.0),
    (11, 30, 88.0, 64.0),
    (12, 20, 93.0, 68.0),
    (12, 55, 97.0, 84.0),
    (13, 10, 97.0, 84.0),
    (13, 20, 76.0, 80.0),
    (13, 30, 70.0, 56.0),
    (15, 0, 84.0, 60.0),
    (17, 0, 86.0, 58.0),
    (21, 0, 72.0, 62.0),
];

/// How many days before this one a logger has kept.
pub(super) const DAYS_KEPT: i64 = 5;

/// The air of the days before, as [`AIR`]: mild mornings and close afternoons, without a storm.
const AIR_BEFORE: &[(u16, u16, f64, f64)] = &[
    (0, 0, 66.0, 70.0),
    (5, 0, 62.0, 72.0),
    (8, 0, 66.0, 60.0),
    (9, 30, 75.0, 64.0),
    (11, 30, 87.0, 63.0),
    (13, 0, 92.0, 64.0),
    (16, 0, 93.0, 62.0),
    (19, 0, 82.0, 62.0),
    (23, 59, 66.0, 70.0),
];

/// How much warmer and damper each of these days was than [`AIR_BEFORE`], yesterday first.
const DAYS_BEFORE: [(f64, f64); DAYS_KEPT as usize] = [(0.5, 1.0), (-1.5, 0.0), (1.0, -2.0), (-2.0, 2.0), (0.0, 0.0)];

/// The air in the arena at a minute of the day: Fahrenheit and percent.
pub(super) fn air(minute: f64) -> (f64, f64) {
    between(AIR, minute)
}

/// The air in the arena at a minute of a day so many days before; none of days that nobody has kept.
pub(super) fn air_before(days: i64, minute: f64) -> Option<(f64, f64)> {
    let (warmer, damper) = DAYS_BEFORE.get(usize::try_from(days - 1).ok()?)?;
    let (fahrenheit, humidity) = between(AIR_BEFORE, minute);
    Some((fahrenheit + warmer, humidity + damper))
}

fn between(points: &[(u16, u16, f64, f64)], minute: f64) -> (f64, f64) {
    let at = |(hour, min, ..): &(u16, u16, f64, f64)| f64::from(hour * 60 + min);
    let after = points.iter().position(|point| at(point) > minute).unwrap_or(points.len());
    let (Some(before), Some(next)) = (points.get(after.wrapping_sub(1)), points.get(after)) else {
        let end = if after == 0 { points[0] } else { points[points.len() - 1] };
        return (end.2, end.3);
    };
    let share = (minute - at(before)) / (at(next) - at(before));
    (before.2 + (next.2 - before.2) * share, before.3 + (next.3 - before.3) * share)
}

/// A time of the day as minutes after midnight.
pub(super) fn minutes((hour, minute): (u16, u16)) -> u16 {
    hour * 60 + minute
}

/// True once a time of the day has come.
pub(super) fn has_come(time: (u16, u16), now: TimeOfDay) -> bool {
    now.minutes() >= minutes(time)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_air_goes_through_every_band_within_the_five_hours() {
        let sums: Vec<_> = (8 * 60 + 20..13 * 60 + 20)
            .map(|minute| {
                let (fahrenheit, humidity) = air(f64::from(minute));
                fahrenheit + humidity
            })
            .collect();
        for band in [0.0..130.0, 130.0..150.0, 150.0..180.0, 180.0..200.0] {
            let minutes = sums.iter().filter(|sum| band.contains(*sum)).count();
            assert!(minutes >= 10, "{band:?}: {minutes} minutes");
        }
    }
}
