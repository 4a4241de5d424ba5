//! Rounds of taking out and placing again.

use super::chance::Chance;
use super::place::Tune;
use super::state::{FIXED, Half, Slot, State, Status, jobs};
use super::table::{EVER, Table};
use super::timing::{Timing, Way};
use crate::plan::day::{Day, Hand, JOBS, Minute, Span};
use crate::plan::price::Tasks;

/// How far around a change times are made exact, in minutes. Pushes hardly ever go on for longer than a job or two.
const AROUND: Minute = 70;
/// How much dearer than the plan it came from a round may be for its times to be worth the trouble.
const HOPE: i64 = 100;
/// How much dearer than the plan it came from a round may be to be kept, at first; nothing at last.
const LENIENT: u64 = 40;
/// The same for one round in twenty: near the cost of a minute late, so that one may be traded for another.
const VERY_LENIENT: u64 = 300;
/// After so many rounds without a better plan the search goes back to the best.
const PATIENCE: u64 = 400;

/// A search under way.
pub(in crate::plan) struct Search<'a> {
    state: State<'a>,
    best: Vec<Status>,
    best_cost: i64,
    busiest_of_best: Minute,
    since_best: u64,
    chance: Chance,
    timing: Timing,
    before: Vec<Status>,
    out: Vec<(usize, Half)>,
    /// A missed outing that the round tries to bring in, before all else.
    first: Option<usize>,
    /// Outings that the round gave up for it; they are tried again after all else.
    last: Vec<usize>,
}

impl<'a> Search<'a> {
    /// Begins with a first plan.
    pub(in crate::plan) fn new(day: &'a Day, table: &'a Table) -> Self {
        let state = State::new(day, table);
        let mut search = Search {
            best: state.outings.clone(),
            best_cost: i64::MAX,
            busiest_of_best: 0,
            since_best: 0,
            state,
            chance: Chance::new(0x0b11_3a2e),
            timing: Timing::default(),
            before: Vec::new(),
            out: Vec::new(),
            first: None,
            last: Vec::new(),
        };
        search.construct();
        search
    }

    /// The cost of the best plan so far.
    pub(in crate::plan) fn best_cost(&self) -> i64 {
        self.best_cost
    }

    /// Takes up a plan from outside that is better than the best.
    pub(in crate::plan) fn adopt(&mut self, tasks: &Tasks) {
        let day = self.state.day;
        let mut plan = self.state.outings.clone();
        for (i, (status, tasks)) in plan.iter_mut().zip(tasks).enumerate() {
            status.missed = tasks.is_none();
            (status.front, status.rear) = (tasks.is_some(), tasks.is_some());
            for (job, task) in JOBS.into_iter().zip(tasks.iter().flatten()) {
                let span = Span { from: task.start, to: day.end(&day.outings[i], job, task.start) };
                status.slots[job as usize] = Slot { hand: task.hand, span };
            }
        }
        self.go_back(&plan);
        self.keep_best();
    }

    /// The best plan so far.
    pub(in crate::plan) fn best(&mut self) -> &State<'a> {
        self.back_to_best();
        &self.state
    }

    /// Outing by outing: those that must be there first, then by weight and ready.
    fn construct(&mut self) {
        let day = self.state.day;
        let mut order: Vec<usize> = (0..day.outings.len()).collect();
        order.sort_by_key(|&i| (day.outings[i].can_be_missed(), i));
        let work: Minute = day.outings.iter().flat_map(|outing| outing.minutes).sum();
        let fair = work / (day.grooms.len().max(1) as Minute);
        let tune = Tune { fair, dislike: vec![0; day.grooms.len()], hold: [0; 3] };
        for i in order {
            self.put_in(i, &tune);
        }
        let moves = self.timing.improve(&self.state, EVER);
        self.state.retime(moves);
        self.keep_best();
    }

    /// Another first plan, outings in any order, grooms liked and disliked at random.
    fn start_anew(&mut self) {
        let day = self.state.day;
        let mut order: Vec<usize> = (0..day.outings.len()).filter(|&i| day.outings[i].can_be_missed()).collect();
        for &i in &order {
            if !self.state.outings[i].missed {
                self.state.miss(i);
            }
        }
        self.chance.shuffle(&mut order);
        let dislike = day.grooms.iter().map(|_| self.chance.below(60) as i64).collect();
        let most = self.state.load.iter().copied().max().unwrap_or(0);
        let tune = Tune { fair: most.max(self.busiest_of_best), dislike, hold: [0; 3] };
        for i in order {
            self.put_in(i, &tune);
        }
    }

    /// One round. `left` of `of` rounds are still to come: the search grows stricter.
    pub(in crate::plan) fn round(&mut self, left: u64, of: u64) {
        let before = self.state.cost();
        self.before.clone_from(&self.state.outings);
        if self.before.is_empty() {
            return;
        }
        let changed = if self.chance.once_in(6) { self.swap_neighbours() } else { self.rebuild_some() };
        let (possible, stretch) = changed.map_or((false, EVER), |stretch| (true, stretch));
        let most = if self.chance.once_in(20) { VERY_LENIENT } else { LENIENT };
        let lenient = self.chance.below((most * left / of.max(1)) as usize + 1) as i64;
        let mut kept = false;
        if possible && self.state.cost() <= before + HOPE.max(lenient) {
            let moves = self.timing.improve(&self.state, around(stretch));
            self.state.retime(moves);
            kept = self.state.cost() <= before + lenient;
        }
        if !kept {
            let before = std::mem::take(&mut self.before);
            self.go_back(&before);
            self.before = before;
        }
        if self.state.cost() < self.best_cost {
            let moves = self.timing.improve(&self.state, EVER);
            self.state.retime(moves);
            self.keep_best();
        } else {
            self.since_best += 1;
            if self.since_best.is_multiple_of(PATIENCE) {
                // By turns: deeper where the best was found, and from somewhere else altogether.
                if (self.since_best / PATIENCE).is_multiple_of(2) {
                    self.start_anew();
                } else {
                    self.back_to_best();
                }
            }
        }
    }

    /// Takes some halves out and places them again. The stretch of the day in which something changed; `None` where
    /// something that must be there found no place.
    fn rebuild_some(&mut self) -> Option<Span> {
        let seed = self.seed();
        self.choose(seed);
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

    /// Lets two jobs that follow each other on a line change places.
    fn swap_neighbours(&mut self) -> Option<Span> {
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
            let (i, job) = (job as usize / 3, job as usize % 3);
            let half = if job == 2 { Half::Rear } else { Half::Front };
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

    /// Slides what stayed a little, one way, so that something longer may fit; the times are made exact afterwards.
    fn make_room(&mut self, stretch: Span) {
        let way = match self.chance.below(5) {
            0 => Way::Earlier,
            1 => Way::Later,
            _ => return,
        };
        let far = 1 + self.chance.below(12) as Minute;
        let moves = self.timing.slide(&self.state, around(stretch), way, far);
        self.state.retime(moves);
    }

    fn keep_best(&mut self) {
        self.best_cost = self.state.cost();
        self.busiest_of_best = self.state.load.iter().copied().max().unwrap_or(0);
        self.best.clone_from(&self.state.outings);
        self.since_best = 0;
    }

    fn back_to_best(&mut self) {
        let best = std::mem::take(&mut self.best);
        self.go_back(&best);
        self.best = best;
    }

    /// Makes the plan what it was.
    fn go_back(&mut self, was: &[Status]) {
        let changed: Vec<usize> = (0..was.len()).filter(|&i| self.state.outings[i] != was[i]).collect();
        // All out first: what is placed may stand where another one was.
        for &i in &changed {
            self.state.take_out(i);
        }
        for &i in &changed {
            self.state.restore(i, &was[i]);
        }
    }

    /// Every half that a round may have changed.
    fn touched(&self) -> Vec<(usize, Half)> {
        let whole = self.first.iter().chain(&self.last).flat_map(|&i| [(i, Half::Front), (i, Half::Rear)]);
        self.out.iter().copied().chain(whole).collect()
    }

    /// The outing that a round is about. A missed one is tried more often than its share; what stands in its way by
    /// gear or horse may be given up for it.
    fn seed(&mut self) -> usize {
        self.first = None;
        self.last.clear();
        let n = self.state.outings.len();
        let missed: Vec<usize> = (0..n).filter(|&i| self.state.outings[i].missed).collect();
        if missed.is_empty() || !self.chance.once_in(3) {
            let seed = self.chance.below(n);
            self.first = self.state.outings[seed].missed.then_some(seed);
            return seed;
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
        seed
    }

    /// Which halves to take out: a seed, and what lies near it in time or shares its gear or horse.
    fn choose(&mut self, seed: usize) {
        self.out.clear();
        let n = self.state.outings.len();
        let missed = self.state.outings[seed].missed;
        let half = if missed || self.chance.once_in(2) { Half::Front } else { Half::Rear };
        let centre = self.when(seed, half);
        let by_gear = missed || self.chance.once_in(5);
        let hands = self.some_hands(seed, half);
        let jitter = [10, 30, 60, 150][self.chance.below(4)];
        let mut near: Vec<(Minute, usize, Half)> = Vec::with_capacity(2 * n);
        for i in 0..n {
            for half in [Half::Front, Half::Rear] {
                if self.state.outings[i].missed || self.state.settled(i, half) || self.last.contains(&i) {
                    continue;
                }
                let span = self.when(i, half);
                let apart = (span.from - centre.to).max(centre.from - span.to).max(0);
                let table = self.state.table;
                let related = by_gear
                    && [&table.gear_before, &table.gear_after, &table.horse_before, &table.horse_after]
                        .iter()
                        .any(|list| list[seed].contains(&i));
                if !related && i != seed && !hands.is_empty() {
                    let slots = &self.state.outings[i].slots;
                    if !jobs(half).iter().any(|&job| hands.contains(&slots[job as usize].hand)) {
                        continue;
                    }
                }
                let apart = if i == seed {
                    0
                } else if related {
                    apart / 4
                } else {
                    apart
                };
                if apart > 240 {
                    continue;
                }
                near.push((apart + self.chance.below(jitter) as Minute, i, half));
            }
        }
        let most = if self.chance.once_in(4) { 10 } else { 6 };
        let count = 2 + self.chance.below(most);
        near.sort_unstable();
        near.truncate(count);
        self.out.extend(near.iter().map(|&(_, i, half)| (i, half)));
        self.chance.shuffle(&mut self.out);
        if self.chance.once_in(3) {
            let state = &self.state;
            self.out.sort_by_key(|&(i, half)| match half {
                Half::Front => state.day.outings[i].ready,
                Half::Rear => state.day.outings[i].back,
            });
        }
    }

    /// Half of the time: the seed's hand and one or two others, among whom the round then moves work. Empty for all.
    fn some_hands(&mut self, seed: usize, half: Half) -> Vec<Hand> {
        let grooms = self.state.day.grooms.len();
        if grooms < 3 || self.chance.once_in(3) {
            return Vec::new();
        }
        let slot = self.state.outings[seed].slots[if half == Half::Front { 1 } else { 2 }];
        let others = 1 + self.chance.below(2);
        let mut hands = vec![slot.hand, Hand::STAFF];
        hands.extend((0..others).map(|_| Hand::of(self.chance.below(grooms))));
        hands
    }

    /// When a half is done, or would be.
    fn when(&self, i: usize, half: Half) -> Span {
        let (outing, status) = (&self.state.day.outings[i], &self.state.outings[i]);
        let [brush, tack, put_away] = &status.slots;
        match half {
            Half::Front if status.front => Span { from: brush.span.from, to: tack.span.to },
            Half::Front => Span { from: outing.ready - outing.minutes[0] - outing.minutes[1], to: outing.ready },
            Half::Rear if status.rear => put_away.span,
            Half::Rear => Span { from: outing.back, to: outing.back + outing.minutes[2] },
        }
    }

    /// Places what was taken out; false where something that must be there finds no place.
    fn place_again(&mut self) -> bool {
        let grooms = self.state.day.grooms.len();
        let most = self.state.load.iter().copied().max().unwrap_or(0);
        let fair = most - self.chance.below(8) as Minute;
        let noisy = self.chance.once_in(2);
        let dislike = (0..grooms).map(|_| if noisy { self.chance.below(12) as i64 } else { 0 }).collect();
        let mut tune = Tune { fair, dislike, hold: [0; 3] };
        if let Some(i) = self.first {
            self.put_in(i, &tune);
        }
        for k in 0..self.out.len() {
            let (i, half) = self.out[k];
            if self.state.outings[i].missed {
                continue;
            }
            tune.hold = self.hold();
            let found = self.state.find(i, half, &tune).or_else(|| {
                tune.hold = [0; 3];
                self.state.find(i, half, &tune)
            });
            match found {
                Some(found) => self.state.place(i, half, &found.slots),
                None if !self.give_up(i) => return false,
                None => {}
            }
        }
        for k in 0..self.last.len() {
            self.put_in(self.last[k], &tune);
        }
        true
    }

    /// Now and then a job leaves room for another on its better side; the times are made exact afterwards.
    fn hold(&mut self) -> [Minute; 3] {
        let mut hold = [0; 3];
        if self.chance.once_in(8) {
            hold[self.chance.below(3)] = self.chance.below(24) as Minute;
        }
        hold
    }

    /// Brings a missed outing in, where there is a place for all of it that costs no more than missing it.
    fn put_in(&mut self, i: usize, tune: &Tune) {
        let before = self.state.cost();
        let was_missed = self.state.outings[i].missed;
        if was_missed {
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
            match self.state.find(i, half, tune) {
                Some(found) => self.state.place(i, half, &found.slots),
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

    fn give_up(&mut self, i: usize) -> bool {
        let possible = self.state.day.outings[i].can_be_missed();
        if possible {
            self.state.miss(i);
        }
        possible
    }
}

fn around(stretch: Span) -> Span {
    Span { from: stretch.from - AROUND, to: stretch.to + AROUND }
}

fn widen(stretch: &mut Span, state: &State, i: usize, half: Half) {
    for &job in jobs(half) {
        let span = state.outings[i].slots[job as usize].span;
        stretch.from = stretch.from.min(span.from);
        stretch.to = stretch.to.max(span.to);
    }
}
