//! To how much a bucket is usually filled. Whoever fills it fills it to its mark; where a refill ends short of that, and
//! minutes passed before anybody looked, a horse has drunk in between.

use serde::{Deserialize, Serialize};

use super::settle::median;
use crate::time::Mono;

/// Refills that are kept.
const KEPT: usize = 15;
/// So many must be known before anything is said.
const KNOWN: usize = 5;
/// Nobody's hand is steadier than this share of the mark;
const STEADY: f64 = 0.04;
/// refills that lie further apart than this show no mark.
const UNSTEADY: f64 = 0.08;
/// What rises again within this time, in milliseconds, is still the same refill.
const SAME_MS: u64 = 30 * 60_000;
/// So many middle distances under the mark a refill is short of it.
const SHORT: f64 = 2.5;

/// The last refills of one bucket.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct FillMark {
    /// When each of the last refills was over, the litres then, and those that were told as missing; oldest first.
    last: Vec<(Mono, f64, f64)>,
}

impl FillMark {
    /// Takes the litres after a refill. Gives the litres by which it, or one before it of which nothing could be said yet,
    /// ended short of the mark, and when; under zero where more was poured, and nothing is missing after all.
    pub fn filled(&mut self, litres: f64, at: Mono) -> Vec<(Mono, f64)> {
        let before = self.known();
        let mut told = Vec::new();
        if let Some((_, _, missing)) = self.last.pop_if(|last| at.since(last.0) <= SAME_MS) {
            told.push((at, -missing));
        }
        if self.last.len() == KEPT {
            self.last.remove(0);
        }
        self.last.push((at, litres, 0.0));
        let Some((mark, within)) = before.or_else(|| self.known()) else { return Vec::new() };
        // What came before the mark was known is told now that it is.
        let new = if before.is_some() { self.last.len() - 1 } else { 0 };
        for (at, litres, missing) in &mut self.last[new..] {
            if mark - *litres > within {
                told.push((*at, mark - *litres - *missing));
                *missing = mark - *litres;
            }
        }
        told.retain(|(_, litres)| *litres != 0.0);
        told
    }

    /// The last refill was none.
    pub fn not_filled(&mut self) {
        self.last.pop();
    }

    /// True where so many litres are as many as it is usually filled to.
    pub fn is_full(&self, litres: f64) -> bool {
        self.known().is_some_and(|(mark, within)| (litres - mark).abs() <= within)
    }

    /// The mark, and how far from it a refill may end.
    fn known(&self) -> Option<(f64, f64)> {
        if self.last.len() < KNOWN {
            return None;
        }
        let mark = median(self.last.iter().map(|(_, litres, _)| *litres))?;
        let spread = median(self.last.iter().map(|(_, litres, _)| (litres - mark).abs()))?;
        (spread < UNSTEADY * mark).then_some((mark, (SHORT * spread).max(STEADY * mark)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUR: u64 = 3_600_000;

    /// A bucket of 18 L filled every five hours to so many litres; gives what was told of the last of them.
    fn filled(litres: &[f64]) -> (FillMark, Vec<(Mono, f64)>) {
        let mut mark = FillMark::default();
        let told = (1..).zip(litres).map(|(n, litres)| mark.filled(*litres, Mono(5 * n * HOUR))).last();
        (mark, told.unwrap_or_default())
    }

    #[test]
    fn what_is_missing_to_the_mark_is_told() {
        assert_eq!(filled(&[17.8, 18.0, 17.9, 18.1, 18.0, 17.9]).1, []);
        let told = filled(&[17.8, 18.0, 17.9, 18.1, 18.0, 15.0]).1;
        assert_eq!(told, [(Mono(30 * HOUR), 3.0)]);
        assert_eq!(filled(&[9.0, 17.0, 12.0, 14.0, 18.0, 11.0]).1, [], "that hand knows no mark");
    }

    #[test]
    fn what_was_short_before_the_mark_was_known_is_told_once_it_is() {
        assert_eq!(filled(&[18.0, 14.0, 18.0, 18.0]).1, []);
        assert_eq!(filled(&[18.0, 14.0, 18.0, 18.0, 17.9]).1, [(Mono(10 * HOUR), 4.0)]);
    }

    #[test]
    fn what_was_told_is_not_told_again_when_the_mark_is_known_anew() {
        let mut mark = FillMark::default();
        // A hand that fills to two marks for a while shows none.
        let litres = [18.0, 14.0, 18.0, 18.0, 18.0, 14.0, 14.0, 14.0, 13.0, 18.0, 18.0, 18.0, 18.0];
        let told: Vec<_> = (1..).zip(litres).flat_map(|(n, litres)| mark.filled(litres, Mono(5 * n * HOUR))).collect();
        for (at, _) in &told {
            let of_one: f64 = told.iter().filter(|one| one.0 == *at).map(|one| one.1).sum();
            assert!(of_one <= 5.0 + 1e-9, "{of_one} L are missing at {}: {told:?}", at.0 / HOUR);
        }
        assert!(told.iter().any(|one| one.0 == Mono(10 * HOUR)), "{told:?}");
    }

    #[test]
    fn a_refill_that_goes_on_is_not_short() {
        let (mut mark, told) = filled(&[18.0, 18.0, 18.0, 18.0, 18.0, 12.0]);
        assert_eq!(told, [(Mono(30 * HOUR), 6.0)]);
        let later = Mono(30 * HOUR + 600_000);
        assert_eq!(mark.filled(17.9, later), [(later, -6.0)]);
    }

    #[test]
    fn what_was_none_counts_for_nothing() {
        let (mut mark, _) = filled(&[18.0, 18.0, 18.0, 18.0, 18.0]);
        assert!(mark.is_full(17.6) && !mark.is_full(16.0));
        mark.not_filled();
        assert!(!mark.is_full(17.6), "four are too few");
    }
}
