//! Puts a few jobs that follow each other on a groom's line into the best order, with one more taken in among them, and
//! perhaps one half given away.
//!
//! Rounds that place one half after the other seldom find an order in which every job stands elsewhere than before. Here all
//! orders of up to eight jobs are looked at at once, by sets (Held and Karp 1962): what matters of those that are done is which
//! they are, what they cost, and when the groom is free. Each begins as soon as it can after the one before it, which is right
//! where work is pressing and rough elsewhere; what the order costs once its times are exact decides.

use super::moves::widen;
use super::place::Tune;
use super::round::{NOWHERE, Search, around, join};
use super::state::{FIXED, Half, Slot, State, jobs, key, of_key};
use super::table::NEVER;
use crate::plan::day::{Hand, JOBS, Job, Minute, Span};

/// How many jobs of the line are put in order: from the first number on, less than the second.
const JOBS_OF_LINE: (usize, usize) = (3, 8);
/// One time in so many all of them stay with the groom.
const ALL_STAY_ONCE_IN: usize = 3;
/// What a minute is worth where two orders of the same jobs differ in cost and in when the groom is free.
const A_MINUTE: [i64; 3] = [0, 20, 100];
/// How much longer a line may get where its own job is put elsewhere, in minutes.
const OWN_JOB: Minute = 6;
/// So many steps through the sets take as long as looking at a hand.
const STEPS_A_HAND: usize = 32;
/// All the rest of it takes as long as looking at so many hands.
const HANDS_A_REORDER: u64 = 6;
/// What keeps a half from the line that it is to leave.
const NOT_HERE: i64 = 1_000_000;

/// Jobs of one line to be put in order.
struct Stretch {
    groom: usize,
    /// `3 * outing + job`, that which is taken in last.
    jobs: Vec<u32>,
    /// When the groom is free before them, and what follows on the line.
    from: Minute,
    next: usize,
}

/// One of them.
#[derive(Clone, Copy)]
struct Item {
    outing: usize,
    job: Job,
    length: Minute,
    release: Minute,
    deadline: Minute,
    /// Of a tack: its brush, where that is one of the items.
    brush: Option<usize>,
    /// The end of a brush, or the start of a tack, that stays where it is.
    partner: Minute,
}

impl Item {
    fn half(&self) -> (usize, Half) {
        (self.outing, if self.job == Job::PutAway { Half::Rear } else { Half::Front })
    }
}

/// The best way found to do a set of items.
#[derive(Clone, Copy)]
struct Done {
    cost: i64,
    free: Minute,
    last: usize,
}

/// A half that is taken out, with the slots that it had, or gets.
type Lifted = (usize, Half, [Slot; 3]);

impl Search<'_> {
    /// Takes a job to a line, anybody's who is cleared, and orders what is there anew. The part of the day in which something has
    /// changed, [`NOWHERE`] where there is nothing to order; `None` where no order fits.
    pub(super) fn reorder(&mut self, strained: (usize, Half)) -> Option<Span> {
        self.out.clear();
        self.last.clear();
        self.first = None;
        let Some(stretch) = self.stretch(strained) else { return Some(NOWHERE) };
        let taken = *stretch.jobs.last()?;
        let mut changed = self.lengthen(&stretch, taken);
        let by = self.state.lines[stretch.groom][stretch.next].span.from;
        let mut lifted: Vec<Lifted> = Vec::new();
        for &number in &stretch.jobs {
            let (i, _, half) = of_key(number);
            if !lifted.iter().any(|&(k, other, _)| (k, other) == (i, half)) {
                lifted.push((i, half, self.state.outings[i].slots));
                widen(&mut changed, &self.state, i, half);
                self.state.lift(i, half);
            }
        }
        let items = items(&self.state, &stretch, by);
        self.looked += HANDS_A_REORDER + ((items.len() << items.len()) / STEPS_A_HAND) as u64;
        let done = by_sets(&self.state, &items, stretch.from, A_MINUTE[self.chance.below(A_MINUTE.len())]);
        let (taken_of, _, taken_half) = of_key(taken);
        let may_leave = lifted.iter().map(|&(i, half, _)| (i, half));
        let may_leave = may_leave.filter(|&it| it != (taken_of, taken_half)).collect();
        let (mut set, leaves) = self.who_leaves(&items, &done, may_leave, stretch.groom)?;
        while set != 0 {
            let Done { free, last, .. } = done[set];
            let item = items[last];
            let (_, _, slots) = lifted.iter_mut().find(|&&mut (i, half, _)| (i, half) == item.half())?;
            let span = Span { from: free - item.length, to: free };
            slots[item.job as usize] = Slot { hand: Hand::of(stretch.groom), span };
            set &= !(1 << last);
        }
        for (i, half, slots) in lifted.iter().filter(|&&(i, half, _)| leaves != Some((i, half))) {
            if !self.state.allows(*i, *half, slots) {
                return None;
            }
            self.state.place(*i, *half, slots);
            widen(&mut changed, &self.state, *i, *half);
        }
        if let Some((i, half)) = leaves {
            let tune = self.fair_tune();
            let mut found = self.state.find(i, half, &tune);
            if self.chance.once_in(2) {
                self.state.find_pushed(i, half, &tune, &mut self.pushing, &mut found);
            }
            self.settle_in(i, half, &found?);
            widen(&mut changed, &self.state, i, half);
        }
        Some(changed)
    }

    /// Parts what follows on the line from the stretch, so that it may get longer.
    fn lengthen(&mut self, stretch: &Stretch, taken: u32) -> Span {
        let (i, job, _) = of_key(taken);
        let Slot { hand, span } = self.state.outings[i].slots[job];
        let follows = self.state.lines[stretch.groom][stretch.next];
        let most = if hand == Hand::of(stretch.groom) { OWN_JOB } else { span.to - span.from };
        let longer = self.chance.below(most as usize + 1) as Minute;
        let changed = join(span, Span { from: stretch.from, to: stretch.from });
        if follows.job == FIXED || longer == 0 {
            return changed;
        }
        let changed = join(changed, Span { from: stretch.from, to: follows.span.from });
        let moves = self.timing.part(&self.state, around(changed), follows.span.from, longer);
        self.state.retime(moves);
        self.parted = true;
        changed
    }

    /// Which items stay, and which half is better placed elsewhere.
    fn who_leaves(
        &mut self,
        items: &[Item],
        done: &[Done],
        may_leave: Vec<(usize, Half)>,
        groom: usize,
    ) -> Option<(usize, Option<(usize, Half)>)> {
        let all = done.len() - 1;
        let mut best = (done[all].cost, all, None);
        if !self.chance.once_in(ALL_STAY_ONCE_IN) {
            let mut tune = self.fair_tune();
            tune.dislike[groom] = NOT_HERE;
            for (i, half) in may_leave {
                let stay = (0..items.len()).filter(|&k| items[k].half() != (i, half)).fold(0, |set, k| set | 1 << k);
                if done[stay].cost >= best.0 {
                    continue;
                }
                self.looked += 1;
                let found = self.state.find(i, half, &tune);
                if let Some(cost) = found.map(|found| done[stay].cost + found.cost).filter(|&cost| cost < best.0) {
                    best = (cost, stay, Some((i, half)));
                }
            }
        }
        (best.0 < NEVER).then_some((best.1, best.2))
    }

    fn fair_tune(&self) -> Tune {
        let fair = self.state.load.iter().copied().max().unwrap_or(0);
        Tune { fair, dislike: vec![0; self.state.day.grooms.len()], staff: 0, hold: [0; 3] }
    }

    /// A job, half of the time of the half that is strained, and the jobs near it on a line that it could go to.
    fn stretch(&mut self, strained: (usize, Half)) -> Option<Stretch> {
        let any = self.open[self.chance.below(self.open.len())];
        let (i, half) = if self.chance.once_in(2) { strained } else { any };
        let begun = self.state.day.outings[i].begun;
        let jobs: Vec<Job> = jobs(half).iter().copied().filter(|&job| begun[job as usize].is_none()).collect();
        let cleared = &self.state.table.cleared[i];
        if !self.state.placed(i, half) || self.state.outings[i].missed || jobs.is_empty() || cleared.is_empty() {
            return None;
        }
        let job = jobs[self.chance.below(jobs.len())];
        let groom = cleared[self.chance.below(cleared.len())];
        let (least, most) = JOBS_OF_LINE;
        let count = least + self.chance.below(most - least);
        let back = self.chance.below(count + 1);
        let line = &self.state.lines[groom];
        let at = line.partition_point(|entry| entry.span.from < self.state.outings[i].slots[job as usize].span.from);
        let before = line[..at].iter().rev().take(back).take_while(|entry| entry.job != FIXED).count();
        let first = at - before;
        let next = first + line[first..].iter().take(count).take_while(|entry| entry.job != FIXED).count();
        let from = line.get(first.checked_sub(1)?)?.span.to;
        line.get(next)?;
        let taken = key(i, job);
        let others = line[first..next].iter().map(|entry| entry.job).filter(|&other| other != taken);
        let jobs: Vec<u32> = others.chain([taken]).collect();
        // A brush noted after its tack has its own rules.
        let strange = |&number: &u32| {
            let (i, job, _) = of_key(number);
            job == Job::Brush as usize && !self.state.day.outings[i].can_be_missed()
        };
        (!jobs.iter().any(strange)).then_some(Stretch { groom, jobs, from, next })
    }
}

/// What there is to know of the jobs of a stretch that ends `by` then, once their halves have been lifted.
fn items(state: &State, stretch: &Stretch, by: Minute) -> Vec<Item> {
    let place = |number: u32| stretch.jobs.iter().position(|&job| job == number);
    let item = |&number: &u32| {
        let (i, job, _) = of_key(number);
        let outing = &state.day.outings[i];
        let [brushed, tacked, _] = state.outings[i].slots.map(|slot| slot.span);
        let job = JOBS[job];
        let (release, deadline, partner, brush) = match job {
            Job::Brush if place(number + 1).is_some() => (state.front_from(i).0, outing.mount, 0, None),
            Job::Brush => (state.front_from(i).0, tacked.from, tacked.from, None),
            Job::Tack => match place(number - 1) {
                None => (state.front_from(i).1.max(brushed.to), outing.mount, brushed.to, None),
                before => (state.front_from(i).1, outing.mount, 0, before),
            },
            Job::PutAway => (state.table.window(i, job).0, state.rear_by(i), 0, None),
        };
        let (release, deadline) = (release.max(stretch.from), deadline.min(by));
        Item { outing: i, job, length: outing.minutes[job as usize], release, deadline, brush, partner }
    };
    stretch.jobs.iter().map(item).collect()
}

/// The best way to do each set of items that one groom who is free `from` then can do one after the other. Sets are numbers
/// with a bit for each item.
fn by_sets(state: &State, items: &[Item], from: Minute, minute: i64) -> Vec<Done> {
    let mut done = vec![Done { cost: NEVER, free: 0, last: 0 }; 1 << items.len()];
    done[0] = Done { cost: 0, free: from, last: 0 };
    let worth = |done: &Done| done.cost + minute * i64::from(done.free);
    for set in 0..done.len() {
        let before = done[set];
        for (k, item) in items.iter().enumerate().filter(|_| before.cost < NEVER) {
            let start = before.free.max(item.release);
            let free = start + item.length;
            let brushed = item.brush.is_none_or(|brush| set & 1 << brush != 0);
            if set & 1 << k != 0 || !brushed || free > item.deadline {
                continue;
            }
            let brushed_wait = state.day.costs.brushed_wait;
            let cost = before.cost
                + match item.job {
                    Job::Brush => brushed_wait * i64::from(item.partner - free),
                    Job::Tack => state.tack_cost(item.outing, free) + brushed_wait * i64::from(start - item.partner),
                    Job::PutAway => state.put_away_cost(item.outing, start - state.day.outings[item.outing].back),
                };
            let now = Done { cost, free, last: k };
            let known = &mut done[set | 1 << k];
            if known.cost >= NEVER || worth(&now) < worth(known) {
                *known = now;
            }
        }
    }
    done
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::search::sample;
    use crate::plan::search::table::Table;

    /// Jobs that all can begin at once, and cost by when they begin, are best done by length (Smith 1956, Various optimizers for
    /// single-stage production).
    #[test]
    fn of_horses_that_are_back_at_once_the_shortest_work_is_first() {
        let lengths = [30, 6, 18, 12, 24];
        let day = sample::day(1, 540, &lengths.map(|put_away| (490, put_away)));
        let table = Table::new(&day);
        let state = State::new(&day, &table);
        let jobs = (0..lengths.len()).map(|i| key(i, Job::PutAway)).collect();
        let stretch = Stretch { groom: 0, jobs, from: 540, next: 1 };
        let items = items(&state, &stretch, 900);
        let done = by_sets(&state, &items, stretch.from, 0);
        let all = done[done.len() - 1];
        assert_eq!((all.cost, all.free, all.last), (day.costs.back_wait * (6 + 18 + 36 + 60), 540 + 90, 0));
        // The last two of the order are the longest two, and so on.
        let mut set = done.len() - 1;
        let mut backwards = Vec::new();
        while set != 0 {
            backwards.push(done[set].last);
            set &= !(1 << done[set].last);
        }
        assert_eq!(backwards, [0, 4, 2, 3, 1]);
    }

    #[test]
    fn what_has_to_be_done_before_is_kept_out() {
        let day = sample::day(1, 540, &[(490, 30), (490, 6)]);
        let table = Table::new(&day);
        let state = State::new(&day, &table);
        let stretch = Stretch { groom: 0, jobs: vec![key(0, Job::PutAway), key(1, Job::PutAway)], from: 540, next: 1 };
        let done = by_sets(&state, &items(&state, &stretch, 540 + 35), stretch.from, 0);
        assert!(done[0b01].cost < NEVER && done[0b10].cost < NEVER && done[0b11].cost == NEVER);
    }
}
