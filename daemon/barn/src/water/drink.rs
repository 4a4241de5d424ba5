//! What a horse can drink, how fast and how much at once: what is more was spilled.

use super::settle::Change;
use super::vessel;
use crate::book::Vessel;
use crate::time::Mono;
use crate::units::Millimetres;

/// A horse drinks at most so many litres in a minute: a swallow of 0.17 L, not quite one a second. From memory.
const AT_MOST_A_MINUTE: f64 = 9.0;
/// Most drink so many; from memory.
const USUALLY_A_MINUTE: f64 = 6.0;
/// And so many at once: its stomach holds 3 to 4 US gallons.
const AT_MOST_AT_ONCE: f64 = 15.0;
/// Most drinks are of no more litres than this; from memory.
const OFTEN_AT_ONCE: f64 = 6.0;
/// What a reading or two say of more than this, in litres, was none: few drink so much at once. From memory.
const USUALLY_AT_ONCE: f64 = 10.0;
/// What goes faster than a horse drinks by less than this is no spill, in litres: a word may come late, and water slops.
const SPILL_AT_LEAST: f64 = 1.0;

/// True where water fell faster than a horse drinks, or by more. `gap` is the usual time between two readings in
/// milliseconds, where known.
pub fn is_spill(vessel: &Vessel, change: &Change, gap: Option<u64>) -> bool {
    let gone = |height: f64| litres(vessel, change.from) - litres(vessel, height);
    let (height, at) = change.fastest;
    // A word that came twice may stand closer to the next than the sensor measures.
    let minutes = at.since(change.began).max(gap.unwrap_or(0)) as f64 / 60_000.0;
    gone(change.to) >= AT_MOST_AT_ONCE || gone(height) > AT_MOST_A_MINUTE * minutes + SPILL_AT_LEAST
}

/// The earliest and the latest that a drink can have begun. What had gone by the first reading off the rest went as fast as a
/// horse usually drinks; where that was all of it, nobody knows how long ago.
pub fn began(vessel: &Vessel, change: &Change, scatter: f64) -> (Mono, Mono) {
    let (at, height) = change.left;
    let gone = (litres(vessel, change.from) - litres(vessel, height.max(change.to))).max(0.0);
    let took = (gone / USUALLY_A_MINUTE * 60_000.0) as u64;
    let latest = change.began.plus(at.since(change.began).saturating_sub(took));
    let is_all = gone <= 0.0 || (height - change.to).abs() <= 2.0 * scatter;
    (if is_all { change.began } else { latest }, latest)
}

/// Litres that were drunk just before a rise, and when, where a single reading says so: few of those are spikes of the radio, which
/// come at any time and as far as they like. Nothing where no horse can have drunk so.
pub fn perhaps(vessel: &Vessel, change: &Change, gap: Option<u64>) -> Option<(Mono, f64)> {
    let (low, at) = change.perhaps?;
    let fall = Change { to: low, fastest: (low, at), ended: at, ..*change };
    let gone = litres(vessel, change.from) - litres(vessel, low);
    (!is_spill(vessel, &fall, gap) && gone <= OFTEN_AT_ONCE).then_some((at, gone))
}

/// The changes as they can have been: a drink just before the hose that no horse could have drunk was a spike of the radio,
/// and the hose came alone, or nothing did.
pub fn possible(vessel: &Vessel, changes: Vec<Change>, gap: Option<u64>, scatter: f64) -> Vec<Change> {
    let [fall, rise] = changes[..] else { return changes };
    let gone = litres(vessel, fall.from) - litres(vessel, fall.to);
    if gone <= USUALLY_AT_ONCE && !is_spill(vessel, &Change { began: fall.before, ..fall }, gap) {
        return changes;
    }
    let alone = Change { from: fall.from, began: fall.began, before: fall.began, ..rise };
    if (alone.to - alone.from).abs() > scatter { vec![alone] } else { Vec::new() }
}

fn litres(vessel: &Vessel, height: f64) -> f64 {
    vessel::at(vessel, Millimetres(height)).litres.get()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::book::{Gauge, Shape};

    const SECOND: u64 = 1_000;

    /// A straight bucket: one litre is 10 mm.
    fn vessel() -> Vessel {
        let side = Millimetres(316.228);
        let height = Millimetres(300.0);
        let shape =
            Shape::Trough { bottom_length: side, bottom_width: side, top_length: side, top_width: side, height };
        Vessel { shape, gauge: Gauge::Up { at_bottom: Millimetres(0.0) } }
    }

    fn fall(from: f64, to: f64, left: (u64, f64), seconds: u64) -> Change {
        let at = |seconds: u64| Mono(seconds * SECOND);
        let ended = at(seconds);
        Change {
            from,
            to,
            began: at(0),
            left: (at(left.0), left.1),
            fastest: (left.1, at(left.0)),
            before: at(0),
            ended,
            sliding: false,
            perhaps: None,
        }
    }

    #[test]
    fn what_goes_faster_than_a_horse_drinks_was_spilled() {
        let is_spill =
            |to: f64, seconds: u64| is_spill(&vessel(), &fall(290.0, to, (seconds, to), seconds), Some(60_000));
        assert!(!is_spill(200.0, 60), "nine litres in a minute");
        assert!(is_spill(185.0, 60), "ten and a half");
        assert!(!is_spill(185.0, 120), "in two it can");
        assert!(!is_spill(195.0, 10), "a word that came twice is no faster");
        assert!(is_spill(130.0, 1_200), "sixteen litres at once");
    }

    #[test]
    fn a_drink_that_was_under_way_began_before_it_was_seen() {
        let began = |left: (u64, f64), seconds| {
            let (earliest, latest) = began(&vessel(), &fall(200.0, 140.0, left, seconds), 1.0);
            (earliest.0 / SECOND, latest.0 / SECOND)
        };
        // Three of six litres were gone after a minute: it began half a minute before.
        assert_eq!(began((60, 170.0), 120), (30, 30));
        // All six were gone after ten minutes, one of which it took.
        assert_eq!(began((600, 140.0), 600), (0, 540));
        // The first thing seen was its head.
        assert_eq!(began((60, 260.0), 120), (0, 60));
    }

    #[test]
    fn a_drink_that_no_horse_can_have_drunk_was_a_spike() {
        let pair = |low: f64| {
            let mut rise = fall(low, 290.0, (120, 290.0), 120);
            rise.began = Mono(60 * SECOND);
            possible(&vessel(), vec![fall(200.0, low, (60, low), 60), rise], Some(60_000), 1.0)
        };
        assert_eq!(pair(150.0).len(), 2);
        let alone = pair(20.0);
        assert_eq!(alone.len(), 1);
        assert_eq!((alone[0].from, alone[0].to, alone[0].began), (200.0, 290.0, Mono(0)));
    }
}
