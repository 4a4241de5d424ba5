//! A first plan by beam search (Ow and Morton 1988, Filtered beam search in scheduling).
//!
//! Where too few hands are left for an hour, which horse waits and who is called is decided by the whole hour at once, and rounds
//! that move a few jobs hardly ever get from one answer to another. So here a day is planned from its beginning: what the groom
//! who is free first does next, or staff, again and again. Of all beginnings with the same number of jobs those are kept that
//! cost least with what the rest is likely to cost ([`Rest`]). Work that can wait is then behind work that can not, brushes stand
//! where there is time, and staff are called early enough to be of use. Minutes here and there are left to the rounds.

mod next;
mod rest;

use super::round::Search;
use super::state::{Slot, State, Status};
use super::table::NEVER;
use crate::plan::day::{Begun, Hand, Job, Minute, Outing, Span};
use rest::Rest;

/// Days with more outings that have not ended do without: a plan so far has a bit for each of their jobs.
const MOST_OPEN: usize = 42;
/// So do days with more grooms, for whom so narrow a beam is no better than other first plans.
const MOST_GROOMS: usize = 4;
/// Where the rest is likely to cost less than so many units, nothing presses, and only one beginning in so many is kept.
const CALM: i64 = 100;
const CALM_ONE_IN: usize = 5;
/// The same jobs done at the same times free come about in several ways: so many times what is kept is held ready.
const ALIKE: usize = 2;
/// Every job that a groom does counts so many units more at most, by chance for each groom.
const DISLIKE: usize = 30;

/// Who does a job, or `STAFF`.
type Who = u8;
const STAFF: Who = Who::MAX;

/// What is done next for an outing.
#[derive(Clone, Copy, PartialEq)]
enum What {
    Brush,
    Tack,
    /// Brush and tack.
    Front,
    PutAway,
    /// It is given up.
    Miss,
}

/// A decision.
#[derive(Clone, Copy)]
struct Act {
    /// Among the open outings.
    open: u8,
    what: What,
    /// Of the brush, and of the tack or put away.
    hands: [Who; 2],
    starts: [i16; 2],
}

impl Act {
    fn new(open: usize, what: What, hands: [Who; 2], starts: [Minute; 2]) -> Self {
        Act { open: open as u8, what, hands, starts: starts.map(|start| start as i16) }
    }
}

/// How far an outing is.
#[derive(Clone, Copy)]
struct Past {
    brushed_by: Who,
    brushed: i16,
    put_away: i16,
}

/// Beginnings of a day with the same number of jobs done. Lines and outings of all of them stand one after the other.
#[derive(Default)]
struct Level {
    begun: Vec<Beginning>,
    free: Vec<i16>,
    past: Vec<Past>,
}

/// A beginning of a day.
#[derive(Clone, Copy)]
struct Beginning {
    /// A bit for each job of each open outing, those of missed ones too.
    done: u128,
    /// A bit for each open outing.
    missed: u64,
    cost: i64,
    /// The last of all decisions that led to it.
    last: u32,
}

impl Beginning {
    fn is_done(&self, open: usize, job: Job) -> bool {
        self.done >> (3 * open + job as usize) & 1 == 1
    }
}

/// What one more decision makes of a beginning.
#[derive(Clone, Copy)]
struct Next {
    /// Its cost with that of the rest, by which it is chosen.
    likely: i64,
    cost: i64,
    /// Level and place there of what it goes on from.
    from: (u8, u16),
    act: Act,
    /// The groom who is free later now, and from when.
    line: Who,
    free: i16,
    /// The same for the same jobs done and the same times free.
    key: u64,
}

/// The search for a first plan.
struct Beam<'a> {
    state: &'a State<'a>,
    /// Outings with a job that has not begun.
    open: Vec<usize>,
    /// By groom: when they are not to be had, while nothing is missed that somebody brushes for.
    blocks: Vec<Vec<Span>>,
    dislike: Vec<i64>,
    rest: Rest,
    levels: Vec<Level>,
    /// By level: what may be kept of it, and what anything has to be likely to cost less than.
    next: Vec<(Vec<Next>, i64)>,
    width: usize,
    /// Each with the one before it.
    decisions: Vec<(u32, Act)>,
    looked_at: u64,
}

impl Search<'_> {
    /// Makes a first plan with so many beginnings kept. False where the day is too large or strange for it; the plan is then as
    /// it was.
    pub(super) fn start_by_beam(&mut self, width: usize) -> bool {
        let dislike = self.state.lines.iter().map(|_| self.chance.below(DISLIKE) as i64).collect();
        let Some(mut beam) = Beam::new(&self.state, dislike, width) else { return false };
        let plan = beam.search();
        self.foreseen += beam.looked_at;
        let Some(plan) = plan else { return false };
        self.go_back(&plan);
        true
    }
}

impl<'a> Beam<'a> {
    fn new(state: &'a State<'a>, dislike: Vec<i64>, width: usize) -> Option<Self> {
        let (day, table) = (state.day, state.table);
        let is_open = |&i: &usize| day.outings[i].begun.iter().any(Option::is_none);
        let open: Vec<usize> = (0..day.outings.len()).filter(is_open).collect();
        // What was noted out of order has rules of its own.
        let strange = |i: &usize| {
            let [brush, tack, put_away] = day.outings[*i].begun;
            tack.is_some() && brush.is_none() || put_away.is_some() && tack.is_none()
        };
        if open.len() > MOST_OPEN || day.grooms.len() > MOST_GROOMS || open.iter().any(strange) {
            return None;
        }
        let mut blocks = table.blocks.clone();
        for &(groom, span) in table.brushing.iter().flatten() {
            blocks[groom].push(span);
            blocks[groom].sort_by_key(|block| (block.from, block.to));
        }
        let rest = Rest::new(state, &open, &blocks);
        Some(Beam {
            state,
            open,
            blocks,
            dislike,
            rest,
            levels: Vec::new(),
            next: Vec::new(),
            width,
            decisions: Vec::new(),
            looked_at: 0,
        })
    }

    fn search(&mut self) -> Option<Vec<Status>> {
        let first = self.first_level();
        let to_do = 3 * self.open.len() - first.begun[0].done.count_ones() as usize;
        self.levels.resize_with(to_do + 1, Level::default);
        self.next.resize_with(to_do + 1, || (Vec::new(), i64::MAX));
        self.levels[0] = first;
        for level in 0..to_do {
            let here = std::mem::take(&mut self.levels[level]);
            for at in 0..here.begun.len() {
                self.go_on(&here, level, at);
            }
            self.levels[level] = here;
            self.keep_best(level + 1);
        }
        let last = self.levels[to_do].begun.iter().min_by_key(|beginning| beginning.cost)?;
        Some(self.plan(*last))
    }

    fn first_level(&self) -> Level {
        let day = self.state.day;
        let mut first = Beginning { done: 0, missed: 0, cost: 0, last: u32::MAX };
        let mut past = Vec::new();
        for (k, &i) in self.open.iter().enumerate() {
            let [brush, tack, put_away] = day.outings[i].begun;
            if self.state.table.given_up[i] >= NEVER {
                first.done |= 0b111 << (3 * k);
                first.missed |= 1 << k;
            }
            for (job, begun) in [brush, tack, put_away].into_iter().enumerate() {
                first.done |= u128::from(begun.is_some()) << (3 * k + job);
            }
            let brushed_by = brush.and_then(|brush| brush.hand.groom()).map_or(STAFF, |groom| groom as Who);
            let end = |begun: Option<Begun>| begun.map_or(0, |begun| begun.span.to as i16);
            past.push(Past { brushed_by, brushed: end(brush), put_away: end(put_away) });
        }
        let free = (0..self.blocks.len()).map(|groom| self.free_from(groom, day.earliest())).collect();
        Level { begun: vec![first], free, past }
    }

    fn outing(&self, open: usize) -> &'a Outing {
        &self.state.day.outings[self.open[open]]
    }

    /// When a groom is there from then on; far away where not any more.
    fn free_from(&self, groom: usize, mut from: Minute) -> i16 {
        while let Some(block) = self.blocks[groom].iter().find(|block| block.from <= from && from < block.to) {
            from = block.to;
        }
        from.min(rest::FAR) as i16
    }

    /// Keeps the best beginnings of a level.
    fn keep_best(&mut self, level: usize) {
        let (mut next, _) = std::mem::take(&mut self.next[level]);
        thin_out(&mut next, ALIKE * self.width);
        next.sort_unstable_by_key(|next| (next.likely, next.key, next.from));
        let calm = next.first().is_some_and(|best| best.likely - best.cost < CALM);
        let width = if calm { self.width.div_ceil(CALM_ONE_IN) } else { self.width };
        let mut kept = Level::default();
        let mut keys: Vec<u64> = Vec::with_capacity(width);
        for next in next {
            if keys.len() == width {
                break;
            }
            if !keys.contains(&next.key) {
                keys.push(next.key);
                self.take(&next, &mut kept);
            }
        }
        self.levels[level] = kept;
    }

    /// Makes a beginning out of a decision.
    fn take(&mut self, next: &Next, level: &mut Level) {
        let (lines, outings) = (self.blocks.len(), self.open.len());
        let (from, at) = (&self.levels[next.from.0 as usize], next.from.1 as usize);
        let mut beginning = from.begun[at];
        let free = level.free.len();
        level.free.extend_from_slice(&from.free[at * lines..(at + 1) * lines]);
        let past = level.past.len();
        level.past.extend_from_slice(&from.past[at * outings..(at + 1) * outings]);
        if next.line != STAFF {
            level.free[free + next.line as usize] = next.free;
        }
        let Act { open, what, hands, starts } = next.act;
        let open = open as usize;
        let minutes = self.outing(open).minutes.map(|minutes| minutes as i16);
        let past = &mut level.past[past + open];
        if matches!(what, What::Brush | What::Front) {
            (past.brushed_by, past.brushed) = (hands[0], starts[0] + minutes[0]);
        }
        if what == What::PutAway {
            past.put_away = starts[1] + minutes[2];
        }
        beginning.done |= u128::from(bits(what)) << (3 * open);
        beginning.missed |= u64::from(what == What::Miss) << open;
        beginning.cost = next.cost;
        self.decisions.push((beginning.last, next.act));
        beginning.last = self.decisions.len() as u32 - 1;
        level.begun.push(beginning);
    }

    /// The plan that a beginning of which nothing is left has come to.
    fn plan(&self, end: Beginning) -> Vec<Status> {
        let day = self.state.day;
        let mut plan = self.state.outings.clone();
        for (k, &i) in self.open.iter().enumerate() {
            let there = end.missed >> k & 1 == 0;
            (plan[i].missed, plan[i].front, plan[i].rear) = (!there, there, there);
        }
        let mut last = end.last;
        while let Some(&(before, act)) = self.decisions.get(last as usize) {
            let i = self.open[act.open as usize];
            let mut set = |job: Job, which: usize| {
                let hand = if act.hands[which] == STAFF { Hand::STAFF } else { Hand::of(act.hands[which].into()) };
                let from = Minute::from(act.starts[which]);
                let span = Span { from, to: from + day.outings[i].minutes[job as usize] };
                plan[i].slots[job as usize] = Slot { hand, span };
            };
            if matches!(act.what, What::Brush | What::Front) {
                set(Job::Brush, 0);
            }
            match act.what {
                What::Tack | What::Front => set(Job::Tack, 1),
                What::PutAway => set(Job::PutAway, 1),
                What::Brush | What::Miss => {}
            }
            last = before;
        }
        plan
    }
}

/// Which of its three jobs an outing has done by a decision.
fn bits(what: What) -> u8 {
    match what {
        What::Brush => 0b001,
        What::Tack => 0b010,
        What::Front => 0b011,
        What::PutAway => 0b100,
        What::Miss => 0b111,
    }
}

/// Keeps so many of the best at most: what the worst of them is likely to cost.
fn thin_out(next: &mut Vec<Next>, most: usize) -> i64 {
    if next.len() <= most {
        return i64::MAX;
    }
    let (_, last, _) = next.select_nth_unstable_by_key(most, |next| (next.likely, next.key, next.from));
    let limit = last.likely;
    next.truncate(most);
    limit
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::day::Day;
    use crate::plan::price::{Price, price};
    use crate::plan::search::sample;
    use crate::plan::search::table::Table;

    fn by_beam(day: &Day) -> Option<Price> {
        let table = Table::new(day);
        let mut search = Search::new(day, &table);
        search.start_by_beam(40).then(|| price(day, &search.state.tasks()))
    }

    #[test]
    fn a_plan_breaks_no_rule_and_leaves_nobody_out() {
        for grooms in 1..=4 {
            let mounts = [500, 505, 510, 600, 605, 610, 700, 700, 700];
            let day = sample::day(grooms, 0, &mounts.map(|mount| (mount, 10 + mount % 7)));
            let priced = by_beam(&day).expect("a plan");
            assert_eq!((priced.broken, priced.parts.missed), (Vec::new(), 0), "{grooms} grooms");
        }
    }

    /// One groom tacks three horses one after the other, and has brushed all of them before.
    #[test]
    fn brushes_stand_where_there_is_time() {
        let day = sample::day(1, 0, &[(700, 18); 3]);
        let parts = by_beam(&day).expect("a plan").parts;
        assert_eq!((parts.missed, parts.staff, parts.late), (0, 0, 0));
        assert!(parts.brushed_wait > 0);
    }

    /// Half an hour after the groom has come three horses are to be ready: that is time for one.
    #[test]
    fn staff_are_called_rather_than_that_a_ride_is_missed() {
        let day = sample::day(1, 0, &[(440, 18); 3]);
        let price = by_beam(&day).expect("a plan");
        assert_eq!((price.broken, price.parts.missed), (Vec::new(), 0));
        assert!((10_000..=20_000).contains(&price.parts.staff), "{}", price.parts.staff);
    }

    #[test]
    fn a_day_too_large_is_left_as_it_was() {
        let day = sample::day(3, 0, &[(700, 18); MOST_OPEN + 1]);
        let table = Table::new(&day);
        let mut search = Search::new(&day, &table);
        let before = search.state.outings.clone();
        assert!(!search.start_by_beam(40));
        assert_eq!(search.state.outings, before);
    }
}
