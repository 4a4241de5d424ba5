//! Places what has no place: one half after the other, each where it is cheapest.

use super::place::{Found, Tune};
use super::round::{HOPE_PUSHED, Search, join};
use super::state::Half;
use crate::plan::day::{Minute, Span};

/// What it counts against the groom who did a half that the round is to give to another.
const ELSEWHERE: i64 = 50;

impl Search<'_> {
    /// Outing by outing: those that must be there first, then those that are brushed just now, then by ready.
    pub(super) fn construct(&mut self) {
        let day = self.state.day;
        let mut order: Vec<usize> = (0..day.outings.len()).collect();
        order.sort_by_key(|&i| (day.outings[i].can_be_missed(), self.state.table.brushing[i].is_none(), i));
        let work: Minute = day.outings.iter().flat_map(|outing| outing.minutes).sum();
        let fair = work / (day.grooms.len().max(1) as Minute);
        let tune = Tune { fair, dislike: vec![0; day.grooms.len()], staff: 0, hold: [0; 3] };
        for i in order {
            self.put_in(i, &tune);
        }
        self.make_times_exact();
        self.keep_best();
    }

    /// Another first plan, outings in any order, grooms liked and disliked at random.
    pub(super) fn start_anew(&mut self) {
        let day = self.state.day;
        let mut order: Vec<usize> = (0..day.outings.len()).filter(|&i| day.outings[i].can_be_missed()).collect();
        for &i in &order {
            if !self.state.outings[i].missed {
                self.state.miss(i);
            }
        }
        self.chance.shuffle(&mut order);
        // Before their time is given away.
        order.sort_by_key(|&i| self.state.table.brushing[i].is_none());
        let dislike = day.grooms.iter().map(|_| self.chance.below(60) as i64).collect();
        let most = self.state.load.iter().copied().max().unwrap_or(0);
        let tune = Tune { fair: most.max(self.busiest_of_best), dislike, staff: 0, hold: [0; 3] };
        for i in order {
            self.put_in(i, &tune);
        }
    }

    /// Places what was taken out; false where something that must be there finds no place, or all is sure to be too dear.
    pub(super) fn place_again(&mut self) -> bool {
        let grooms = self.state.day.grooms.len();
        let most = self.state.load.iter().copied().max().unwrap_or(0);
        let fair = most - self.chance.below(8) as Minute;
        let noisy = self.chance.once_in(2);
        let dislike = (0..grooms).map(|_| if noisy { self.chance.below(12) as i64 } else { 0 }).collect();
        let mut tune = Tune { fair, dislike, staff: 0, hold: [0; 3] };
        let avoid = self.chance.once_in(2);
        let push = !self.chance.once_in(3);
        if let Some(i) = self.first {
            self.put_in(i, &tune);
        }
        for k in 0..self.out.len() {
            let (i, half) = self.out[k];
            if self.state.outings[i].missed {
                continue;
            }
            tune.hold = self.hold();
            self.looked += self.state.table.cleared[i].len() as u64 + 1;
            // The first goes elsewhere, or most rounds would put all back where it was.
            let slot = self.state.outings[i].slots[if half == Half::Front { 1 } else { 2 }];
            let avoided = slot.hand.groom().filter(|_| k == 0 && avoid);
            if let Some(groom) = avoided {
                tune.dislike[groom] += ELSEWHERE;
            }
            let mut found = self.state.find(i, half, &tune).or_else(|| {
                tune.hold = [0; 3];
                self.state.find(i, half, &tune)
            });
            if push {
                self.state.find_pushed(i, half, &tune, &mut self.pushing, &mut found);
            }
            if let Some(groom) = avoided {
                tune.dislike[groom] -= ELSEWHERE;
            }
            match found {
                Some(found) => self.settle_in(i, half, &found),
                None if !self.give_up(i) => return false,
                None => {}
            }
            // What is placed already is too dear.
            if self.last.is_empty() && self.state.cost() > self.cost_before + HOPE_PUSHED {
                return false;
            }
        }
        for k in 0..self.last.len() {
            self.put_in(self.last[k], &tune);
        }
        true
    }

    /// Brings a missed outing in, where there is a place for all of it that costs no more than missing it.
    pub(super) fn put_in(&mut self, i: usize, tune: &Tune) {
        let before = self.state.cost();
        let was_missed = self.state.outings[i].missed;
        if was_missed {
            if self.state.instead_of_brushing(i).next().is_some() {
                return;
            }
            self.state.bring_in(i);
        }
        // A put away that has begun without its tack comes in where it is: others may stand in its way.
        if was_missed && self.state.outings[i].rear && self.state.outings[i].slots[2].span.to > self.state.rear_by(i) {
            self.state.miss(i);
            return;
        }
        for half in [Half::Front, Half::Rear] {
            if self.state.placed(i, half) {
                continue;
            }
            let mut found = self.state.find(i, half, tune);
            if self.first == Some(i) {
                self.state.find_pushed(i, half, tune, &mut self.pushing, &mut found);
            }
            match found {
                Some(found) => self.settle_in(i, half, &found),
                None => {
                    self.give_up(i);
                    return;
                }
            }
        }
        if was_missed && self.state.cost() > before {
            self.state.miss(i);
        }
    }

    /// Places a half where it was found a place, and pushes away what is in its way.
    pub(super) fn settle_in(&mut self, i: usize, half: Half, found: &Found) {
        for &(job, start) in &found.moves {
            let span = self.state.outings[job as usize / 3].slots[job as usize % 3].span;
            self.pushed = join(self.pushed, Span { from: start, to: start + span.to - span.from });
        }
        self.state.shift(&found.moves);
        self.state.place(i, half, &found.slots);
    }

    pub(super) fn give_up(&mut self, i: usize) -> bool {
        let possible = self.state.day.outings[i].can_be_missed();
        if possible {
            self.state.miss(i);
        }
        possible
    }

    /// Now and then a job leaves room for another on its better side; the times are made exact afterwards.
    pub(super) fn hold(&mut self) -> [Minute; 3] {
        let mut hold = [0; 3];
        if self.chance.once_in(8) {
            hold[self.chance.below(3)] = self.chance.below(24) as Minute;
        }
        hold
    }
}
