//! Shares the work more evenly between two grooms without moving a minute.
//!
//! What the busiest groom works counts once for all, so a round that gives one job away hardly ever gains by it: somebody
//! else is about as busy, or the job is longer than what there is to even out. Here the lines of two grooms are cut
//! wherever both are free, and in each piece between two cuts they may change over. Of all single pieces and all pairs of
//! pieces the cheapest exchange is taken. That is a round of its own, and the end of any other whose gain is spent on who works
//! most.

use std::ops::Range;

use super::moves::widen;
use super::round::{NOWHERE, Search};
use super::state::{FIXED, State, key, of_key};
use crate::plan::day::{Hand, JOBS, Job, Minute, Span};

/// An exchange that is dearer by more is not worth the trouble of making the times exact.
const MOST_DEARER: i64 = 10;

/// What happens between two moments at which both grooms are free.
struct Piece {
    /// Its jobs, by place in [`Pair::jobs`].
    jobs: Range<usize>,
    /// By how much longer the first groom works in it than the second, in minutes.
    longer: Minute,
    /// What the exchange costs by hands alone, handovers left out.
    cost: i64,
    /// They can not change over: somebody is not to be had, or not cleared.
    stays: bool,
}

/// Two grooms, and what they do in pieces.
struct Pair<'a> {
    state: &'a State<'a>,
    grooms: [usize; 2],
    /// What anybody else works at most.
    others: Minute,
    jobs: Vec<u32>,
    pieces: Vec<Piece>,
}

/// Jobs that get another hand.
struct Exchange {
    /// What it costs, and how much less even the work is in the end: the sum of squares of minutes. The less the better.
    worth: (i64, i64),
    /// Each job, and who gets it.
    jobs: Vec<(u32, usize)>,
}

impl Search<'_> {
    /// Lets one who works most change over with another in one or two pieces of the day. The stretch in which something has
    /// changed, [`NOWHERE`] where nothing would be gained.
    pub(super) fn balance(&mut self) -> Option<Span> {
        self.out.clear();
        let grooms = self.state.lines.len();
        // Of several who work as much each has a turn.
        let turn = self.chance.below(grooms.max(1));
        let most = (0..grooms).max_by_key(|&g| (self.state.load[g], (g + turn) % grooms))?;
        let mut best: Option<Exchange> = None;
        for other in (0..grooms).filter(|&other| other != most) {
            let pair = Pair::new(&self.state, [most, other]);
            self.looked += pair.pieces.len() as u64;
            pair.better(&mut best);
        }
        let Some(best) = best.filter(|best| best.worth.0 <= MOST_DEARER) else { return Some(NOWHERE) };
        let halves = self.with_hands(best.jobs)?;
        let mut stretch = NOWHERE;
        for &(i, half, _) in &halves {
            widen(&mut stretch, &self.state, i, half);
            self.state.lift(i, half);
        }
        for (i, half, slots) in &halves {
            self.state.place(*i, *half, slots);
        }
        Some(stretch)
    }
}

impl<'a> Pair<'a> {
    fn new(state: &'a State<'a>, grooms: [usize; 2]) -> Self {
        let others = (0..state.load.len()).filter(|g| !grooms.contains(g)).map(|g| state.load[g]);
        let mut pair = Pair { state, grooms, others: others.max().unwrap_or(0), jobs: Vec::new(), pieces: Vec::new() };
        let [mut first, mut second] = grooms.map(|groom| state.lines[groom].iter().peekable());
        let mut end = Minute::MIN;
        loop {
            let (entry, whose) = match (first.peek(), second.peek()) {
                (Some(a), Some(b)) if b.span.from < a.span.from => (second.next(), 1),
                (Some(_), _) => (first.next(), 0),
                _ => (second.next(), 1),
            };
            let Some(entry) = entry else { return pair };
            if entry.span.from >= end {
                let at = pair.jobs.len();
                pair.pieces.push(Piece { jobs: at..at, longer: 0, cost: 0, stays: false });
            }
            end = end.max(entry.span.to);
            pair.add(entry.job, whose, entry.span.to - entry.span.from);
        }
    }

    /// Adds a job of one of the two to the last piece.
    fn add(&mut self, number: u32, whose: usize, length: Minute) {
        let Some(piece) = self.pieces.last_mut() else { return };
        let (i, job, _) = of_key(number);
        let [from, to] = [self.grooms[whose], self.grooms[1 - whose]];
        if number == FIXED || !self.state.table.cleared[i].contains(&to) {
            piece.stays = true;
            return;
        }
        let cost = |groom: usize| self.state.table.hand_cost(i, JOBS[job], Hand::of(groom));
        piece.cost += cost(to) - cost(from);
        piece.longer += if whose == 0 { length } else { -length };
        self.jobs.push(number);
        piece.jobs.end += 1;
    }

    /// Keeps the best exchange of one piece or two, where it is better than what is known.
    fn better(&self, best: &mut Option<Exchange>) {
        for (k, piece) in self.pieces.iter().enumerate().filter(|(_, piece)| !piece.stays) {
            self.consider(&[piece], best);
            for other in self.pieces[k + 1..].iter().filter(|other| !other.stays) {
                self.consider(&[piece, other], best);
            }
        }
    }

    fn consider(&self, pieces: &[&Piece], best: &mut Option<Exchange>) {
        let longer: Minute = pieces.iter().map(|piece| piece.longer).sum();
        let before = self.grooms.map(|groom| self.state.load[groom]);
        let after = [before[0] - longer, before[1] + longer];
        let squares = |load: [Minute; 2]| load.iter().map(|&load| i64::from(load).pow(2)).sum::<i64>();
        let uneven = squares(after) - squares(before);
        if uneven >= 0 {
            return;
        }
        let busiest = |load: [Minute; 2]| i64::from(load[0].max(load[1]).max(self.others));
        let cost = self.state.day.costs.busiest * (busiest(after) - busiest(before))
            + pieces.iter().map(|piece| piece.cost).sum::<i64>()
            + self.handovers(pieces);
        if best.as_ref().is_none_or(|best| (cost, uneven) < best.worth) {
            let jobs = pieces.iter().flat_map(|piece| &self.jobs[piece.jobs.clone()]);
            *best = Some(Exchange { worth: (cost, uneven), jobs: jobs.map(|&job| (job, self.changed(job))).collect() });
        }
    }

    /// Who gets a job of the two in an exchange.
    fn changed(&self, number: u32) -> usize {
        let (i, job, _) = of_key(number);
        let hand = self.state.outings[i].slots[job].hand;
        if hand == Hand::of(self.grooms[0]) { self.grooms[1] } else { self.grooms[0] }
    }

    /// What the exchange costs more by handovers.
    fn handovers(&self, pieces: &[&Piece]) -> i64 {
        let jobs = || pieces.iter().flat_map(|piece| &self.jobs[piece.jobs.clone()]);
        let one = |&number: &u32| {
            let (i, job, _) = of_key(number);
            let partner = match JOBS[job] {
                Job::Brush => Job::Tack,
                Job::Tack => Job::Brush,
                Job::PutAway => return 0,
            };
            if jobs().any(|&other| other == key(i, partner)) {
                return 0;
            }
            let slots = &self.state.outings[i].slots;
            let apart = |hand: Hand| i64::from(hand != slots[partner as usize].hand);
            apart(Hand::of(self.changed(number))) - apart(slots[job].hand)
        };
        self.state.day.costs.handover * jobs().map(one).sum::<i64>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::search::sample;
    use crate::plan::search::state::{Half, Slot};
    use crate::plan::search::table::Table;

    #[test]
    fn two_grooms_come_to_work_as_long() {
        // Four horses, one after the other: the first groom does everything.
        let day = sample::day(2, 0, &[(480, 18), (620, 18), (760, 18), (900, 18)]);
        let table = Table::new(&day);
        let mut search = Search::new(&day, &table);
        for i in 0..4 {
            for half in [Half::Front, Half::Rear] {
                let slots = search.state.outings[i].slots.map(|slot| Slot { hand: Hand::of(0), ..slot });
                search.state.lift(i, half);
                search.state.place(i, half, &slots);
            }
        }
        let work = 4 * (15 + 12 + 18);
        assert_eq!(search.state.load, [work, 0]);
        let before = search.state.cost();
        // Two pieces at a time, each the longest job that there is.
        search.balance().expect("a change");
        assert_eq!(search.state.load, [work - 2 * 18, 2 * 18]);
        while search.balance() != Some(NOWHERE) {}
        let most = *search.state.load.iter().max().expect("two grooms");
        let rest = before - day.costs.busiest * i64::from(work - most);
        assert!(most - work / 2 <= 18 / 2, "half of the longest job at most is left uneven: {most}");
        assert!(search.state.cost() <= rest + day.costs.handover, "for one handover at most");
    }
}
