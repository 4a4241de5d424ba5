//! What a round does: takes halves out and places them again, in one of six ways; two have files of their own,
//! [`balance`](super::balance) and [`reorder`](super::reorder). Each says in which stretch of the day something has changed;
//! `None` where something that must be there found no place.

use super::place::Tune;
use super::round::{Search, around};
use super::state::{FIXED, Half, Slot, State, jobs, of_key};
use super::table::EVER;
use crate::plan::day::{Hand, Minute, Span};

/// So much dearer staff count where a groom is to take over from them: what a place costs in the end, when all others have
/// moved up, is less than it looks.
const NO_STAFF: i64 = 4000;

/// Room is made no further than this before or after a half, in minutes; for a front now and then so early that its brush may
/// come before much else, and wait.
const NEAR: Minute = 20;
const EARLY: Minute = 100;

impl Search<'_> {
    /// Takes some halves out and places them again. The stretch of the day in which something changed; `None` where
    /// something that must be there found no place.
    pub(super) fn rebuild_some(&mut self) -> Option<Span> {
        let (seed, half) = self.seed();
        self.choose(seed, half);
        let mut stretch = Span { from: EVER.to, to: EVER.from };
        for &(i, half) in &self.out {
            widen(&mut stretch, &self.state, i, half);
            self.state.lift(i, half);
        }
        for k in 0..self.last.len() {
            for half in [Half::Front, Half::Rear] {
                widen(&mut stretch, &self.state, self.last[k], half);
            }
            self.state.miss(self.last[k]);
        }
        self.back_to_brushing(&mut stretch);
        if stretch.from < stretch.to {
            self.make_room(stretch);
        }
        let possible = self.place_again();
        for (i, half) in self.touched() {
            if !self.state.outings[i].missed {
                widen(&mut stretch, &self.state, i, half);
            }
        }
        possible.then_some(stretch)
    }

    /// Takes out what stands where somebody is to go on brushing for the outing that the round tries to bring in.
    fn back_to_brushing(&mut self, stretch: &mut Span) {
        let Some(first) = self.first else { return };
        loop {
            let next = self.state.instead_of_brushing(first).next();
            let Some((i, _, half)) = next.map(of_key) else { break };
            widen(stretch, &self.state, i, half);
            self.state.lift(i, half);
            self.out.push((i, half));
        }
    }

    /// Takes a half out, with a few near it at most, parts the jobs around at some minute and places it again, by a groom if
    /// that is possible at all: what others wait for it is seen once the times are exact.
    pub(super) fn relieve(&mut self, i: usize, half: Half) -> Option<Span> {
        self.first = None;
        self.last.clear();
        self.choose(i, half);
        self.out.retain(|&other| other != (i, half));
        self.out.truncate(self.chance.below(4));
        let place = self.chance.below(self.out.len() + 1);
        self.out.insert(place, (i, half));
        let mut stretch = Span { from: EVER.to, to: EVER.from };
        for &(i, half) in &self.out {
            widen(&mut stretch, &self.state, i, half);
            self.state.lift(i, half);
        }
        let when = self.when(i, half);
        let early = if half == Half::Front && self.chance.once_in(2) { EARLY } else { NEAR };
        let at = when.from - early + self.chance.below((when.to - when.from + early + NEAR) as usize) as Minute;
        let [brush, tack, put_away] = self.state.day.outings[i].minutes;
        let length = if half == Half::Front { brush + tack } else { put_away };
        let far = 1 + self.chance.below(length as usize + 4) as Minute;
        let moves = self.timing.part(&self.state, around(stretch), at, far);
        self.state.retime(moves);
        self.parted = true;
        let grooms = self.state.day.grooms.len();
        let fair = self.state.load.iter().copied().max().unwrap_or(0);
        let dislike = (0..grooms).map(|_| self.chance.below(400) as i64).collect();
        let tune = Tune { fair, dislike, staff: NO_STAFF, hold: [0; 3] };
        let push = !self.chance.once_in(3);
        for k in 0..self.out.len() {
            let (i, half) = self.out[k];
            if self.state.outings[i].missed {
                continue;
            }
            self.looked += self.state.table.cleared[i].len() as u64 + 1;
            let mut found = self.state.find(i, half, &tune);
            if push {
                self.state.find_pushed(i, half, &tune, &mut self.pushing, &mut found);
            }
            match found {
                Some(found) => self.settle_in(i, half, &found),
                None => return None,
            }
            widen(&mut stretch, &self.state, i, half);
        }
        Some(stretch)
    }

    /// Lets two jobs that follow each other on a line change places.
    pub(super) fn swap_neighbours(&mut self) -> Option<Span> {
        if self.state.lines.is_empty() {
            return None;
        }
        let line = &self.state.lines[self.chance.below(self.state.lines.len())];
        let at = self.chance.below(line.len().saturating_sub(1));
        let (Some(&a), Some(&b)) = (line.get(at), line.get(at + 1)) else { return None };
        if a.job == FIXED || b.job == FIXED || a.job / 3 == b.job / 3 {
            return None;
        }
        let length = |span: Span| span.to - span.from;
        let earlier = Span { from: a.span.from, to: a.span.from + length(b.span) };
        let later = Span { from: b.span.to - length(a.span), to: b.span.to };
        let mut swapped = [(a.job, later), (b.job, earlier)].map(|(job, span)| {
            let (i, job, half) = of_key(job);
            let mut slots = self.state.outings[i].slots;
            slots[job].span = span;
            (i, half, slots)
        });
        for (i, half, _) in &swapped {
            self.state.lift(*i, *half);
        }
        // Whichever goes first now is placed first: the other one may have to come after it by gear or horse.
        swapped.reverse();
        for (i, half, slots) in &swapped {
            if !self.state.allows(*i, *half, slots) {
                return None;
            }
            self.state.place(*i, *half, slots);
        }
        Some(Span { from: a.span.from, to: b.span.to })
    }

    /// Lets two grooms change over what they do in some stretch of time: each goes on with the other's jobs.
    pub(super) fn cross(&mut self) -> Option<Span> {
        let grooms = self.state.lines.len();
        let one = self.chance.below(grooms);
        let other = (one + 1 + self.chance.below(grooms.max(2) - 1)) % grooms.max(1);
        let line = self.state.lines.get(one)?;
        let first = line[self.chance.below(line.len())];
        if one == other || first.job == FIXED {
            return None;
        }
        let from = first.span.from;
        let to = [from + 1, from + 25, from + 60, EVER.to][self.chance.below(4)];
        let far = self.chance.below(20) as Minute;
        let around_it = around(Span { from, to: first.span.to.max(to.min(from + 60)) });
        // The jobs are known before anything moves.
        let mut jobs_of = [Vec::new(), Vec::new()];
        for (jobs, &groom) in jobs_of.iter_mut().zip(&[one, other]) {
            let line = self.state.lines[groom].iter();
            jobs.extend(line.filter(|e| e.job != FIXED && from <= e.span.from && e.span.from < to).map(|e| e.job));
        }
        if far > 0 {
            let moves = self.timing.part(&self.state, around_it, from, far);
            self.state.retime(moves);
            self.parted = true;
        }
        self.out.clear();
        let [ones, others] = jobs_of.map(Vec::into_iter);
        let placed = self.with_hands(ones.map(|job| (job, other)).chain(others.map(|job| (job, one))))?;
        let mut stretch = around_it;
        for &(i, half, _) in &placed {
            widen(&mut stretch, &self.state, i, half);
            self.state.lift(i, half);
        }
        for (i, half, slots) in &placed {
            for &job in jobs(*half) {
                let slot = slots[job as usize];
                let taken = |groom: usize| self.state.lines[groom].iter().any(|e| e.span.overlaps(slot.span));
                if self.state.day.outings[*i].begun[job as usize].is_none() && slot.hand.groom().is_some_and(taken) {
                    return None;
                }
            }
            self.state.place(*i, *half, slots);
        }
        Some(stretch)
    }

    /// The halves of jobs, with the groom for each that is to have it; `None` where one is not cleared.
    pub(super) fn with_hands(
        &self,
        jobs: impl IntoIterator<Item = (u32, usize)>,
    ) -> Option<Vec<(usize, Half, [Slot; 3])>> {
        let mut halves: Vec<(usize, Half, [Slot; 3])> = Vec::new();
        for (job, to) in jobs {
            let (i, job, half) = of_key(job);
            if !self.state.table.cleared[i].contains(&to) {
                return None;
            }
            let slots = match halves.iter_mut().find(|(k, h, _)| (*k, *h) == (i, half)) {
                Some((.., slots)) => slots,
                None => {
                    halves.push((i, half, self.state.outings[i].slots));
                    &mut halves.last_mut()?.2
                }
            };
            slots[job].hand = Hand::of(to);
        }
        Some(halves)
    }

    /// Slides what stayed a little, one way, so that something longer may fit; the times are made exact afterwards.
    pub(super) fn make_room(&mut self, stretch: Span) {
        let at = match self.chance.below(10) {
            0 => EVER.to,
            1 => EVER.from,
            _ => return,
        };
        let far = 1 + self.chance.below(12) as Minute;
        let moves = self.timing.part(&self.state, around(stretch), at, far);
        self.state.retime(moves);
    }

    /// Every half that a round may have changed.
    pub(super) fn touched(&self) -> Vec<(usize, Half)> {
        let whole = self.first.iter().chain(&self.last).flat_map(|&i| [(i, Half::Front), (i, Half::Rear)]);
        self.out.iter().copied().chain(whole).collect()
    }
}

pub(super) fn widen(stretch: &mut Span, state: &State, i: usize, half: Half) {
    for &job in jobs(half) {
        let span = state.outings[i].slots[job as usize].span;
        stretch.from = stretch.from.min(span.from);
        stretch.to = stretch.to.max(span.to);
    }
}
