//! Everything that may be done next: by the groom who is free first and has anything to do, or by staff.

use super::rest::{Change, FAR, Wait};
use super::{ALIKE, Act, Beam, Beginning, Level, Next, Past, STAFF, What, Who, bits, thin_out};
use crate::plan::day::{Hand, Job, Minute, Outing, Span};
use crate::plan::search::chance::mixed;
use crate::plan::search::table::EVER;

/// A groom waits no longer for a job than this, unless nothing else is left, in minutes.
const WAIT: Minute = 100;
/// Brush and tack are begun no longer before the horse is to be ready, in minutes.
const EARLY: Minute = 200;
/// Giving an outing up is looked at so many minutes before it is to be ready.
const GIVEN_UP: Minute = 60;
/// A horse that has been back for so many minutes may be put away by staff.
const STOOD: Minute = 40;

/// A beginning that is gone on from.
struct Going<'a> {
    beginning: Beginning,
    free: &'a [i16],
    past: &'a [Past],
    from: (u8, u16),
    /// Something may come next.
    any: bool,
}

/// A groom who may do something for an open outing.
#[derive(Clone, Copy)]
struct Turn {
    open: usize,
    groom: usize,
    /// When they are free.
    now: Minute,
    /// How long they may wait for it.
    longest: Minute,
}

impl Turn {
    fn hand(self) -> Hand {
        Hand::of(self.groom)
    }

    fn act(self, what: What, starts: [Minute; 2]) -> Act {
        Act::new(self.open, what, [self.groom as Who; 2], starts)
    }

    fn may_wait_until(self, start: Minute) -> bool {
        start - self.now <= self.longest
    }
}

impl Beam<'_> {
    /// Everything that may come next.
    pub(super) fn go_on(&mut self, level: &Level, number: usize, at: usize) {
        let (lines, outings) = (self.blocks.len(), self.open.len());
        let free = &level.free[at * lines..(at + 1) * lines];
        let past = &level.past[at * outings..(at + 1) * outings];
        let mut going = Going { beginning: level.begun[at], free, past, from: (number as u8, at as u16), any: false };
        let mut order: Vec<(Minute, usize)> = free
            .iter()
            .enumerate()
            .map(|(groom, &free)| (free.into(), groom))
            .filter(|&(free, _)| free < FAR)
            .collect();
        order.sort_unstable();
        for longest in [WAIT, FAR] {
            let does_something = |&&(now, groom): &&(Minute, usize)| {
                self.rest.look(&going.beginning, past, free, now);
                for open in 0..outings {
                    self.by_groom(&mut going, Turn { open, groom, now, longest });
                }
                going.any
            };
            let mut now = order.iter().find(does_something).map(|&(now, _)| now);
            if now.is_none() {
                now = order.first().map(|&(now, _)| now);
                self.rest.look(&going.beginning, past, free, now.unwrap_or(FAR));
            }
            for open in 0..outings {
                self.by_staff(&mut going, open, now.unwrap_or(FAR), longest == WAIT);
            }
            if going.any {
                break;
            }
        }
    }

    /// From when a horse may be brushed, and its tack be had; `None` where something has to be decided before.
    fn from(&self, going: &Going, open: usize) -> (Option<Minute>, Option<Minute>) {
        let after = |waits: &[Wait], from: Minute| {
            waits.iter().try_fold(from, |from, wait| {
                if going.beginning.missed >> wait.open & 1 == 1 {
                    return Some(from);
                }
                let done = going.beginning.is_done(wait.open, Job::PutAway);
                done.then(|| from.max(Minute::from(going.past[wait.open].put_away) + wait.then))
            })
        };
        let [horse, gear] = self.rest.from[open];
        (after(&self.rest.waits_for_horse[open], horse), after(&self.rest.waits_for_gear[open], gear))
    }

    /// What a groom can do next for an outing.
    fn by_groom(&mut self, going: &mut Going, turn: Turn) {
        let Turn { open, now, longest, .. } = turn;
        let begun = going.beginning;
        if begun.is_done(open, Job::PutAway) || !self.rest.cleared[open].contains(&turn.groom) {
            return;
        }
        if begun.is_done(open, Job::Tack) {
            self.puts_away(going, turn);
            return;
        }
        let (Some(horse), gear) = self.from(going, open) else { return };
        if self.outing(open).ready - now > EARLY && longest == WAIT {
            return;
        }
        match gear {
            Some(gear) if begun.is_done(open, Job::Brush) => self.tacks(going, turn, gear),
            None if begun.is_done(open, Job::Brush) => {}
            _ => self.brushes(going, turn, horse, gear),
        }
    }

    fn puts_away(&mut self, going: &mut Going, turn: Turn) {
        let (state, i) = (self.state, self.open[turn.open]);
        let outing = self.outing(turn.open);
        let length = outing.minutes[Job::PutAway as usize];
        let start = self.fit(turn.groom, outing, turn.now.max(self.rest.back[turn.open]), length);
        if turn.may_wait_until(start) {
            let cost =
                state.put_away_cost(i, start - outing.back) + state.table.hand_cost(i, Job::PutAway, turn.hand());
            self.next(going, turn.act(What::PutAway, [start; 2]), Some((turn.groom, start + length)), cost);
        }
    }

    /// Tacks a horse up that is brushed.
    fn tacks(&mut self, going: &mut Going, turn: Turn, gear: Minute) {
        let outing = self.outing(turn.open);
        let costs = &self.state.day.costs;
        let tack = outing.minutes[Job::Tack as usize];
        let Past { brushed_by, brushed, .. } = going.past[turn.open];
        let brushed = Minute::from(brushed);
        let handover = if brushed_by == turn.groom as Who { 0 } else { costs.handover };
        let from = turn.now.max(brushed).max(gear);
        for start in self.now_or_when_wanted(turn.groom, outing, from, outing.ready - tack, tack) {
            if turn.may_wait_until(start) && start + tack <= outing.mount {
                let waited = costs.brushed_wait * i64::from(start - brushed);
                let cost = self.tack_cost(turn.open, start, turn.hand()) + waited + handover;
                self.next(going, turn.act(What::Tack, [start; 2]), Some((turn.groom, start + tack)), cost);
            }
        }
    }

    /// Brushes a horse, and tacks it up as well, where its tack is to be had; or tacks it up once staff have brushed it.
    fn brushes(&mut self, going: &mut Going, turn: Turn, horse: Minute, gear: Option<Minute>) {
        let (state, i) = (self.state, self.open[turn.open]);
        let outing = self.outing(turn.open);
        let costs = &state.day.costs;
        let [brush, tack, _] = outing.minutes;
        let in_time = |start: Minute, tacked: Minute| turn.may_wait_until(start) && tacked <= outing.mount;
        let wanted = outing.ready - tack - brush;
        let starts = self.now_or_when_wanted(turn.groom, outing, turn.now.max(horse), wanted, brush);
        let soonest = starts.clone().next().unwrap_or(EVER.to);
        let by_hand = state.table.hand_cost(i, Job::Brush, turn.hand());
        if in_time(soonest, soonest + brush + tack) {
            self.next(going, turn.act(What::Brush, [soonest; 2]), Some((turn.groom, soonest + brush)), by_hand);
        }
        let Some(gear) = gear else { return };
        let mut ready = EVER.to;
        for brushes in starts {
            let tacks = self.fit(turn.groom, outing, (brushes + brush).max(gear), tack);
            ready = ready.min(tacks + tack);
            if in_time(brushes, tacks + tack) {
                let waited = costs.brushed_wait * i64::from(tacks - brushes - brush);
                let cost = self.tack_cost(turn.open, tacks, turn.hand()) + waited + by_hand;
                self.next(going, turn.act(What::Front, [brushes, tacks]), Some((turn.groom, tacks + tack)), cost);
            }
        }
        if ready <= outing.ready {
            return;
        }
        let tacks = self.fit(turn.groom, outing, turn.now.max(horse + brush).max(gear), tack);
        let brushes = tacks - brush;
        if in_time(tacks, tacks + tack) && self.fit_staff(outing, brushes, brush) == brushes {
            let called = state.table.hand_cost(i, Job::Brush, Hand::STAFF) + costs.handover;
            let cost = self.tack_cost(turn.open, tacks, turn.hand()) + called;
            let act = Act { hands: [STAFF, turn.groom as Who], ..turn.act(What::Front, [brushes, tacks]) };
            self.next(going, act, Some((turn.groom, tacks + tack)), cost);
        }
    }

    /// What staff can do for an outing, or that it is given up. `now`: how far the day has come; `pressed`: only what is late.
    fn by_staff(&mut self, going: &mut Going, open: usize, now: Minute, pressed: bool) {
        let (state, i) = (self.state, self.open[open]);
        let outing = self.outing(open);
        let begun = going.beginning;
        if begun.is_done(open, Job::PutAway) {
            return;
        }
        let [brush, tack, put_away] = outing.minutes;
        if begun.is_done(open, Job::Tack) {
            let start = self.fit_staff(outing, self.rest.back[open], put_away);
            if !pressed || now - start > STOOD {
                let called = state.table.hand_cost(i, Job::PutAway, Hand::STAFF);
                let act = Act::new(open, What::PutAway, [STAFF; 2], [start; 2]);
                self.next(going, act, None, state.put_away_cost(i, start - outing.back) + called);
            }
            return;
        }
        let brushed = begun.is_done(open, Job::Brush);
        let tacks = self.staff_could_tack(going, open);
        let needed = tack + if brushed { 0 } else { brush };
        if let Some(tacks) = tacks.filter(|_| !pressed || now + needed > outing.ready) {
            let (what, before) = if brushed {
                let costs = &state.day.costs;
                let Past { brushed_by, brushed, .. } = going.past[open];
                let handover = if brushed_by == STAFF { 0 } else { costs.handover };
                (What::Tack, costs.brushed_wait * i64::from(tacks - Minute::from(brushed)) + handover)
            } else {
                (What::Front, state.table.hand_cost(i, Job::Brush, Hand::STAFF))
            };
            let act = Act::new(open, what, [STAFF; 2], [tacks - brush, tacks]);
            self.next(going, act, None, self.tack_cost(open, tacks, Hand::STAFF) + before);
        }
        let soon = !pressed || outing.ready - now < GIVEN_UP;
        if soon && (tacks.is_none() || self.rest.clashes(open)) {
            let act = Act::new(open, What::Miss, [STAFF; 2], [0; 2]);
            self.next(going, act, None, state.day.costs.missed * outing.weight);
        }
    }

    /// When staff could tack a horse up, having brushed it where it is not; `None` where it can not be in time.
    fn staff_could_tack(&self, going: &Going, open: usize) -> Option<Minute> {
        let outing = self.outing(open);
        let [brush, tack, _] = outing.minutes;
        let earliest = self.state.day.earliest();
        let (horse, gear) = self.from(going, open);
        let brushed = going.beginning.is_done(open, Job::Brush);
        let after = if brushed { going.past[open].brushed.into() } else { horse? + brush };
        let from = (outing.ready - tack).max(after).max(gear?).max(earliest);
        let tacks = self.fit_staff(outing, from, tack);
        let brushes = tacks - brush;
        let can_brush = brushed || brushes >= earliest && self.fit_staff(outing, brushes, brush) == brushes;
        (can_brush && tacks + tack <= outing.mount).then_some(tacks)
    }

    /// Notes what may come next. `line`: whose line it goes to, and when they are free after it.
    fn next(&mut self, going: &mut Going, act: Act, line: Option<(usize, Minute)>, cost: i64) {
        self.looked_at += 1;
        going.any = true;
        let open = act.open as usize;
        let done = going.beginning.done | u128::from(bits(act.what)) << (3 * open);
        let free = line.map(|(groom, free)| (groom, self.free_from(groom, free)));
        let put_away = Minute::from(act.starts[1]) + self.outing(open).minutes[Job::PutAway as usize];
        let change = Change { open, what: act.what, line: free, put_away };
        let cost = going.beginning.cost + cost + line.map_or(0, |(groom, _)| self.dislike[groom]);
        let steps = (done ^ going.beginning.done).count_ones() as usize;
        let (others, limit) = &mut self.next[going.from.0 as usize + steps];
        let Some(rest) = self.rest.likely(&change, *limit - cost) else { return };
        let mut key = mixed(done as u64 ^ mixed((done >> 64) as u64 ^ mixed(going.beginning.missed)));
        for (groom, &was) in going.free.iter().enumerate() {
            let now = free.filter(|&(line, _)| line == groom).map_or(was, |(_, free)| free);
            key = mixed(key ^ now as u64);
        }
        others.push(Next {
            likely: cost + rest,
            cost,
            from: going.from,
            act,
            line: free.map_or(STAFF, |(groom, _)| groom as Who),
            free: free.map_or(0, |(_, free)| free),
            key,
        });
        if others.len() == 2 * ALIKE * self.width {
            *limit = thin_out(others, ALIKE * self.width);
        }
    }

    /// What it costs that this hand begins to tack up then.
    fn tack_cost(&self, open: usize, start: Minute, hand: Hand) -> i64 {
        let i = self.open[open];
        let end = start + self.outing(open).minutes[Job::Tack as usize];
        self.state.tack_cost(i, end) + self.state.table.hand_cost(i, Job::Tack, hand)
    }

    /// The earliest start from then on, and the earliest from when it is wanted, where that is later.
    fn now_or_when_wanted(
        &self,
        groom: usize,
        outing: &Outing,
        from: Minute,
        wanted: Minute,
        length: Minute,
    ) -> impl Iterator<Item = Minute> + Clone + use<> {
        let soonest = self.fit(groom, outing, from, length);
        let later = (wanted > soonest).then(|| self.fit(groom, outing, wanted, length));
        [Some(soonest), later].into_iter().flatten()
    }

    /// The earliest start from then on at which a groom and the horse are there for so long.
    fn fit(&self, groom: usize, outing: &Outing, from: Minute, length: Minute) -> Minute {
        let away = &self.state.day.horses[outing.horse].away;
        earliest(self.blocks[groom].iter().chain(away), from, length)
    }

    fn fit_staff(&self, outing: &Outing, from: Minute, length: Minute) -> Minute {
        earliest(self.state.day.horses[outing.horse].away.iter(), from, length)
    }
}

/// The earliest start from then on of a job so long that overlaps none of the blocks.
fn earliest<'b>(blocks: impl Iterator<Item = &'b Span> + Clone, from: Minute, length: Minute) -> Minute {
    let mut start = from;
    while let Some(block) = blocks.clone().find(|block| block.overlaps(Span { from: start, to: start + length })) {
        start = block.to;
    }
    start
}
