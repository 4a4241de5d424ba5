//! What a round is about: which halves it takes out of the plan.

use std::cmp::Reverse;

use super::round::Search;
use super::state::{Half, jobs};
use crate::plan::day::{Hand, Minute, Span};

/// One round in so many places the heavy outings first.
const HEAVY_FIRST_ONCE_IN: usize = 5;
/// What is further from a seed than this is not taken out with it, in minutes.
const FAR: Minute = 240;

impl Search<'_> {
    /// A half that costs much: done by staff, or tacked late; by turns.
    pub(super) fn strained(&mut self) -> Option<(usize, Half)> {
        let state = &self.state;
        let late = self.chance.once_in(2);
        let strained = |&(i, half): &(usize, Half)| {
            if state.outings[i].missed {
                return false;
            }
            let outing = &state.day.outings[i];
            let slots = &state.outings[i].slots;
            if late {
                return half == Half::Front && outing.begun[1].is_none() && slots[1].span.to > outing.ready
                    || half == Half::Rear && slots[2].span.from > outing.back + state.day.limits.stand as Minute;
            }
            jobs(half)
                .iter()
                .any(|&job| outing.begun[job as usize].is_none() && slots[job as usize].hand == Hand::STAFF)
        };
        let strained: Vec<(usize, Half)> = self.open.iter().copied().filter(strained).collect();
        (!strained.is_empty()).then(|| strained[self.chance.below(strained.len())])
    }

    /// The half that a round is about. A missed one is tried more often than its share; what stands in its way by
    /// gear or horse may be given up for it.
    pub(super) fn seed(&mut self) -> (usize, Half) {
        self.first = None;
        self.last.clear();
        let cost = self.state.cost();
        let may_come_in = |i: usize| self.state.outings[i].missed && self.state.table.given_up[i] < cost;
        let missed: Vec<usize> = (0..self.state.outings.len()).filter(|&i| may_come_in(i)).collect();
        if missed.is_empty() || !self.chance.once_in(3) {
            let (seed, half) = self.open[self.chance.below(self.open.len())];
            self.first = may_come_in(seed).then_some(seed);
            return (seed, half);
        }
        let seed = missed[self.chance.below(missed.len())];
        self.first = Some(seed);
        let (table, state) = (self.state.table, &self.state);
        let mut rivals: Vec<usize> = [&table.gear_before, &table.gear_after, &table.horse_before, &table.horse_after]
            .into_iter()
            .flat_map(|lists| lists[seed].iter().copied())
            .filter(|&k| !state.outings[k].missed && state.day.outings[k].can_be_missed())
            .collect();
        rivals.sort_by_key(|&k| (state.day.outings[k].mount - state.day.outings[seed].mount).abs());
        rivals.dedup();
        rivals.truncate(4);
        self.chance.shuffle(&mut rivals);
        rivals.truncate(self.chance.below(3));
        self.last = rivals;
        (seed, Half::Front)
    }

    /// Which halves to take out: a seed, and what lies near it in time or shares its gear or horse.
    pub(super) fn choose(&mut self, seed: usize, half: Half) {
        self.out.clear();
        let missed = self.state.outings[seed].missed;
        let half = if missed { Half::Front } else { half };
        let centre = self.when(seed, half);
        let by_gear = missed || self.chance.once_in(5);
        let hands = self.some_hands(seed, half);
        let jitter = [10, 30, 60, 150][self.chance.below(4)];
        let state = &self.state;
        let table = state.table;
        let with_it = [&table.gear_before, &table.gear_after, &table.horse_before, &table.horse_after];
        let mut near: Vec<(Minute, usize, Half)> = Vec::with_capacity(self.open.len());
        for &(i, half) in &self.open {
            if state.outings[i].missed || self.last.contains(&i) {
                continue;
            }
            let related = by_gear && with_it.iter().any(|lists| lists[seed].contains(&i));
            let by_hand = |hands: [Hand; 4]| {
                let slots = &state.outings[i].slots;
                jobs(half).iter().any(|&job| hands.contains(&slots[job as usize].hand))
            };
            if !related && i != seed && !hands.is_none_or(by_hand) {
                continue;
            }
            let span = self.when(i, half);
            let apart = (span.from - centre.to).max(centre.from - span.to).max(0);
            let apart = match (i == seed, related) {
                (true, _) => 0,
                (_, true) => apart / 4,
                _ => apart,
            };
            if apart <= FAR {
                near.push((apart + self.chance.below(jitter) as Minute, i, half));
            }
        }
        let most = if self.chance.once_in(4) { 10 } else { 6 };
        let count = 2 + self.chance.below(most);
        if near.len() > count {
            near.select_nth_unstable(count);
            near.truncate(count);
        }
        near.sort_unstable();
        self.out.extend(near.iter().map(|&(_, i, half)| (i, half)));
        self.chance.shuffle(&mut self.out);
        let state = &self.state;
        if self.chance.once_in(HEAVY_FIRST_ONCE_IN) {
            // A front can not wait as a put away can.
            let weight = |half: Half| if half == Half::Front { 2 } else { 1 };
            self.out.sort_by_key(|&(i, half)| Reverse(state.day.outings[i].weight * weight(half)));
        } else if self.chance.once_in(3) {
            self.out.sort_by_key(|&(i, half)| match half {
                Half::Front => state.day.outings[i].ready,
                Half::Rear => state.day.outings[i].back,
            });
        }
    }

    /// Two times in three: the seed's hand, staff and one or two others, among whom the round then moves work.
    fn some_hands(&mut self, seed: usize, half: Half) -> Option<[Hand; 4]> {
        let grooms = self.state.day.grooms.len();
        if grooms < 3 || self.chance.once_in(3) {
            return None;
        }
        let slot = self.state.outings[seed].slots[if half == Half::Front { 1 } else { 2 }];
        let others = 1 + self.chance.below(2);
        let mut hands = [slot.hand, Hand::STAFF, slot.hand, slot.hand];
        hands[2..2 + others].fill_with(|| Hand::of(self.chance.below(grooms)));
        Some(hands)
    }

    /// When a half is done, or would be.
    pub(super) fn when(&self, i: usize, half: Half) -> Span {
        let (outing, status) = (&self.state.day.outings[i], &self.state.outings[i]);
        let [brush, tack, put_away] = &status.slots;
        match half {
            Half::Front if status.front => Span { from: brush.span.from, to: tack.span.to },
            Half::Front => Span { from: outing.ready - outing.minutes[0] - outing.minutes[1], to: outing.ready },
            Half::Rear if status.rear => put_away.span,
            Half::Rear => Span { from: outing.back, to: outing.back + outing.minutes[2] },
        }
    }
}
