//! A cost that no plan can be under, for days that are too large to be proved.
//!
//! Grooms, shared gear and horses with several outings are *resources*: each serves one outing at a time. Where that rule
//! is given up, each outing has its cheapest plan by itself, found exactly minute by minute. So that outings do not all want
//! the same minute of the same groom, each minute of each resource has a price; an outing pays the price of what it takes,
//! and the prices of everything are given back once. Whatever the prices (none below zero), the sum is a bound: a real plan
//! takes no minute twice, so what it pays is never more than what is given back (Lagrangian relaxation; Fisher 1981). The
//! part `busiest` is at least any average of the grooms' minutes, weights summing to one, and these weights are prices
//! too. Prices go up where too many want a minute and down where nobody does, for some rounds; the best bound counts.
//!
//! All sums are whole numbers, [`SCALE`] to a unit of cost, so that no rounding can push a bound too high.

use super::day::{Day, Hand, Job, Minute, Span};
use super::search::table::{EVER, own_window};

/// Fractions of a unit of cost.
const SCALE: i64 = 1 << 12;
/// How far from its best time a job is looked at, in minutes. Further away only the wait itself counts.
const EARLY_TACK: Minute = 120;
const EARLY_BRUSH: Minute = 240;
const LATE_REAR: Minute = 150;

/// Prices and what follows from them.
pub(super) struct Bound<'a> {
    day: &'a Day,
    /// The first minute that has a price.
    from: Minute,
    /// How many minutes have one.
    minutes: usize,
    /// Grooms first, then shared gear, then horses.
    resources: Vec<Resource>,
    /// By outing: which resources of gear it holds from tack to dry, and its horse from brush to put away.
    holds: Vec<(Vec<usize>, Option<usize>)>,
    /// By groom: its share of `busiest`, a minute.
    share: Vec<i64>,
    best: i64,
    stride: f64,
    stale: u32,
    taken: Vec<(usize, Span)>,
}

struct Resource {
    price: Vec<i64>,
    /// Sum of prices up to a minute.
    sum: Vec<i64>,
    /// How many minutes up to a minute can not be had.
    blocked: Vec<Minute>,
    use_of: Vec<i32>,
}

/// The cheapest plan of one half, and where it lies; `None` where only a bound on far times counts.
type Cheapest = (i64, Place);

/// Who does a job and from when.
type Place = Option<(Hand, Minute)>;

impl<'a> Bound<'a> {
    pub(super) fn new(day: &'a Day) -> Self {
        let outings = &day.outings;
        let from = outings.iter().map(|o| o.ready - EARLY_TACK - EARLY_BRUSH - o.minutes[0] - o.minutes[1]).min();
        let to = outings.iter().map(|o| o.back.max(day.earliest()) + LATE_REAR + o.minutes[2]).max();
        let (from, to) = (from.unwrap_or(0), to.unwrap_or(0) + day.limits.girth_dry as Minute + 1);
        let minutes = (to - from).max(1) as usize;
        let mut bound = Bound {
            day,
            from,
            minutes,
            resources: Vec::new(),
            holds: outings.iter().map(|_| (Vec::new(), None)).collect(),
            share: vec![SCALE * day.costs.busiest / day.grooms.len().max(1) as i64; day.grooms.len()],
            best: 0,
            stride: 1.0,
            stale: 0,
            taken: Vec::new(),
        };
        for groom in 0..day.grooms.len() {
            let blocks = bound.groom_blocks(groom);
            bound.resource(&blocks);
        }
        // What has begun is left out: two that have begun may share, and the bound stays a bound. So is what was noted out of
        // order, put away before it was tacked.
        let plain = |i: usize| outings[i].can_be_missed() && outings[i].begun[2].is_none();
        for piece in 0..day.gear.len() {
            let users = (0..outings.len()).filter(|&i| plain(i) && outings[i].gear.contains(&piece));
            let users: Vec<usize> = users.collect();
            if users.len() > 1 {
                let resource = bound.resource(&[]);
                users.iter().for_each(|&i| bound.holds[i].0.push(resource));
            }
        }
        for horse in 0..day.horses.len() {
            let users = (0..outings.len()).filter(|&i| outings[i].horse == horse && outings[i].begun == [None; 3]);
            let users: Vec<usize> = users.collect();
            if users.len() > 1 {
                let resource = bound.resource(&[]);
                users.iter().for_each(|&i| bound.holds[i].1 = Some(resource));
            }
        }
        bound
    }

    /// The best bound so far, in units of cost: costs are whole, so it is rounded up.
    pub(super) fn best(&self) -> i64 {
        self.best.div_euclid(SCALE) + i64::from(self.best.rem_euclid(SCALE) > 0)
    }

    fn groom_blocks(&self, groom: usize) -> Vec<Span> {
        let Span { from, to } = self.day.grooms[groom].shift;
        let mut blocks = vec![Span { from: EVER.from, to: from }, Span { from: to, to: EVER.to }];
        blocks.extend(&self.day.grooms[groom].away);
        // A begun brush frees its groom where its outing is missed: only what is sure to stay blocks.
        let sure = self.day.outings.iter().filter(|outing| !outing.can_be_missed());
        let begun = sure.flat_map(|outing| outing.begun.iter().flatten());
        blocks.extend(begun.filter(|begun| begun.hand == Hand::of(groom)).map(|begun| begun.span));
        blocks
    }

    fn resource(&mut self, blocks: &[Span]) -> usize {
        let mut blocked = vec![0; self.minutes + 1];
        for t in 0..self.minutes {
            let minute = self.from + t as Minute;
            let taken = blocks.iter().any(|block| block.from <= minute && minute < block.to);
            blocked[t + 1] = blocked[t] + Minute::from(taken);
        }
        let n = self.minutes;
        self.resources.push(Resource { price: vec![0; n], sum: vec![0; n + 1], blocked, use_of: vec![0; n] });
        self.resources.len() - 1
    }

    /// One round: the bound at these prices, then better prices. `cost` is that of a plan that is known.
    pub(super) fn round(&mut self, cost: i64) {
        let mut value = 0;
        for resource in &mut self.resources {
            for t in 0..self.minutes {
                resource.sum[t + 1] = resource.sum[t] + resource.price[t];
            }
            resource.use_of.fill(0);
            value -= resource.sum[self.minutes];
        }
        let mut load = vec![0_i64; self.day.grooms.len()];
        for i in 0..self.day.outings.len() {
            self.taken.clear();
            value += self.outing(i);
            for &(resource, span) in &self.taken {
                let (from, to) = (self.at(span.from), self.at(span.to));
                self.resources[resource].use_of[from..to].iter_mut().for_each(|used| *used += 1);
                if resource < load.len() {
                    load[resource] += i64::from(span.to - span.from);
                }
            }
        }
        if value > self.best {
            self.best = value;
            self.stale = 0;
        } else {
            self.stale += 1;
            if self.stale == 4 {
                self.stride *= 0.7;
                self.stale = 0;
            }
        }
        self.better_prices(value, cost, &load);
    }

    /// A step along the subgradient, as long as Polyak's rule says.
    fn better_prices(&mut self, value: i64, cost: i64, load: &[i64]) {
        let mut square = 0.0;
        for resource in &self.resources {
            for (price, used) in resource.price.iter().zip(&resource.use_of) {
                if *price > 0 || *used > 1 {
                    square += f64::from(used - 1) * f64::from(used - 1);
                }
            }
        }
        let mean = load.iter().sum::<i64>() as f64 / load.len().max(1) as f64;
        let apart: f64 = load.iter().map(|&minutes| (minutes as f64 - mean) * (minutes as f64 - mean)).sum();
        let gap = (cost * SCALE - value).max(0) as f64 + SCALE as f64;
        let step = self.stride * gap / (square + apart / 64.0).max(1.0);
        for resource in &mut self.resources {
            for (price, used) in resource.price.iter_mut().zip(&resource.use_of) {
                if *price > 0 || *used > 1 {
                    *price = (*price + (step * f64::from(used - 1)) as i64).max(0);
                }
            }
        }
        let budget = SCALE * self.day.costs.busiest;
        let mut left = budget;
        for (share, &minutes) in self.share.iter_mut().zip(load) {
            *share = (*share + (step * (minutes as f64 - mean) / 64.0) as i64).clamp(0, budget);
            left -= *share;
        }
        // The shares sum to `busiest` or less.
        if left < 0 {
            let sum = budget - left;
            self.share.iter_mut().for_each(|share| *share = *share * budget / sum);
        } else {
            let each = left / self.share.len().max(1) as i64;
            self.share.iter_mut().for_each(|share| *share += each);
        }
    }

    fn at(&self, minute: Minute) -> usize {
        (minute - self.from).clamp(0, self.minutes as Minute) as usize
    }

    /// Prices of a resource over a span.
    fn sum(&self, resource: usize, from: Minute, to: Minute) -> i64 {
        let sum = &self.resources[resource].sum;
        (sum[self.at(to)] - sum[self.at(from)]).max(0)
    }

    /// What a job costs whoever does it, times left out; `None` where this hand can not do it then.
    fn work(&self, i: usize, job: Job, hand: Hand, span: Span) -> Option<i64> {
        let (costs, outing) = (&self.day.costs, &self.day.outings[i]);
        let broken = outing.promised[job as usize].is_some_and(|promised| promised != hand);
        let reshuffle = if broken { SCALE * costs.reshuffle } else { 0 };
        let Some(groom) = hand.groom() else { return Some(reshuffle + SCALE * costs.staff * outing.weight) };
        let (from, to) = (self.at(span.from), self.at(span.to));
        let Resource { sum, blocked, .. } = &self.resources[groom];
        let minutes = i64::from(span.to - span.from);
        (blocked[from] == blocked[to]).then(|| reshuffle + sum[to] - sum[from] + self.share[groom] * minutes)
    }

    /// The least that an outing can cost at these prices; what it takes for that goes to `taken`.
    fn outing(&mut self, i: usize) -> i64 {
        let outing = &self.day.outings[i];
        let missed = SCALE * self.day.costs.missed * outing.weight;
        let mut cost = 0;
        for begun in outing.begun.iter().flatten() {
            if let Some(groom) = begun.hand.groom() {
                cost += self.share[groom] * i64::from(begun.span.to - begun.span.from);
            }
        }
        let middle = Span { from: outing.mount, to: outing.back };
        let (gear, horse) = (self.holds[i].0.clone(), self.holds[i].1);
        for &resource in gear.iter().chain(&horse) {
            cost += self.sum(resource, middle.from, middle.to);
        }
        let rear = self.rear(i, &gear, horse);
        let (front, brush, tack) = self.front(i, &gear, horse);
        cost += rear.0 + front;
        if outing.can_be_missed() && missed <= cost {
            return missed;
        }
        let dry = self.day.limits.girth_dry as Minute;
        let [brush_length, tack_length, rear_length] = outing.minutes;
        for (done, length) in [(brush, brush_length), (tack, tack_length), (rear.1, rear_length)] {
            if let Some((hand, start)) = done
                && let Some(groom) = hand.groom()
            {
                self.taken.push((groom, Span { from: start, to: start + length }));
            }
        }
        let tacked = tack.map_or(middle.from, |(_, start)| start);
        let done = rear.1.map_or(middle.to, |(_, start)| start + rear_length);
        self.taken.extend(gear.iter().map(|&piece| (piece, Span { from: tacked, to: done + dry })));
        let brushed = brush.map_or(tacked, |(_, start)| start);
        self.taken.extend(horse.iter().map(|&horse| (horse, Span { from: brushed, to: done })));
        cost
    }

    fn hands(&self, i: usize) -> Vec<Hand> {
        let horse = self.day.outings[i].horse;
        let grooms = (0..self.day.grooms.len()).filter(|&groom| self.day.cleared(groom, horse));
        grooms.map(Hand::of).chain([Hand::STAFF]).collect()
    }

    /// Whether the horse is to be had.
    fn horse_there(&self, i: usize, span: Span) -> bool {
        !self.day.horses[self.day.outings[i].horse].away.iter().any(|away| away.overlaps(span))
    }

    fn rear(&self, i: usize, gear: &[usize], horse: Option<usize>) -> Cheapest {
        let (costs, limits, outing) = (&self.day.costs, &self.day.limits, &self.day.outings[i]);
        let waiting = |start: Minute| {
            let wait = i64::from(start - outing.back).max(0);
            SCALE * (costs.back_wait * wait + costs.standing * (wait - limits.stand).max(0))
        };
        if let Some(begun) = outing.begun[2] {
            return (waiting(begun.span.from), None);
        }
        let from = own_window(self.day, i, Job::PutAway).0;
        let mut best: Cheapest = (waiting(from + LATE_REAR), None);
        let hands = self.hands(i);
        for start in from..from + LATE_REAR {
            let span = Span { from: start, to: start + outing.minutes[2] };
            let wait = waiting(start);
            if wait >= best.0 {
                break;
            }
            if !self.horse_there(i, span) {
                continue;
            }
            let dry = span.to + limits.girth_dry as Minute;
            let held: i64 = gear.iter().map(|&piece| self.sum(piece, outing.back, dry)).sum::<i64>()
                + horse.map_or(0, |horse| self.sum(horse, outing.back, span.to));
            for &hand in &hands {
                if let Some(work) = self.work(i, Job::PutAway, hand, span)
                    && wait + held + work < best.0
                {
                    best = (wait + held + work, Some((hand, start)));
                }
            }
        }
        best
    }

    /// Brush and tack: goes through the minutes and carries, by hand, the cheapest brush that is done by then.
    fn front(&self, i: usize, gear: &[usize], horse: Option<usize>) -> (i64, Place, Place) {
        let (costs, outing) = (&self.day.costs, &self.day.outings[i]);
        let [brush_length, tack_length, _] = outing.minutes;
        let tacked = |end: Minute| {
            let late = i64::from(end - outing.ready);
            SCALE * if late > 0 { costs.late * outing.weight * late } else { -late * costs.saddled_wait }
        };
        if let Some(tack) = outing.begun[1] {
            // What a brush after it costs is left out.
            let wait = outing.begun[0].map_or(0, |brush| i64::from(tack.span.from - brush.span.to).max(0));
            let handover = outing.begun[0].is_some_and(|brush| brush.hand != tack.hand);
            let handover = if handover { costs.handover } else { 0 };
            return (tacked(tack.span.to) + SCALE * (costs.brushed_wait * wait + handover), None, None);
        }
        let (first, last) = own_window(self.day, i, Job::Tack);
        let early = outing.ready - tack_length - EARLY_TACK;
        let from = first.max(early);
        // Far too early, or for ever: the wait alone.
        let mut best = (if first < early { tacked(early + tack_length) } else { i64::MAX / 4 }, None, None);
        let hands = self.hands(i);
        let wait = SCALE * costs.brushed_wait;
        let handover = SCALE * costs.handover;
        // By hand: the cheapest brush so far and its start. A minute more of waiting makes it dearer.
        let mut brushes: Vec<(i64, Minute)> = vec![(i64::MAX / 4, 0); hands.len()];
        let brush_from = own_window(self.day, i, Job::Brush).0.max(from - EARLY_BRUSH);
        let far = if brush_from > own_window(self.day, i, Job::Brush).0 {
            wait * i64::from(EARLY_BRUSH)
        } else {
            i64::MAX / 4
        };
        let mut end = if outing.begun[0].is_some() { from } else { brush_from + brush_length };
        while end <= last {
            if outing.begun[0].is_none() {
                let span = Span { from: end - brush_length, to: end };
                let there = self.horse_there(i, span);
                let held = horse.map_or(0, |horse| self.sum(horse, span.from, outing.mount));
                for (brush, &hand) in brushes.iter_mut().zip(&hands) {
                    brush.0 += wait;
                    if there
                        && let Some(work) = self.work(i, Job::Brush, hand, span)
                        && work + held < brush.0
                    {
                        *brush = (work + held, span.from);
                    }
                }
            }
            let span = Span { from: end, to: end + tack_length };
            if end >= from && self.horse_there(i, span) {
                let base = tacked(span.to) + gear.iter().map(|&piece| self.sum(piece, end, outing.mount)).sum::<i64>();
                let any = brushes.iter().zip(&hands).min_by_key(|(brush, _)| brush.0);
                for (k, &hand) in hands.iter().enumerate() {
                    let Some(work) = self.work(i, Job::Tack, hand, span) else { continue };
                    let brush = match (outing.begun[0], any) {
                        (Some(begun), _) => {
                            let other = if begun.hand == hand { 0 } else { handover };
                            (wait * i64::from(end - begun.span.to) + other, None)
                        }
                        (None, Some((any, any_hand))) if any.0 + handover < brushes[k].0 => {
                            (any.0 + handover, Some((*any_hand, any.1)))
                        }
                        (None, _) => (brushes[k].0, Some((hand, brushes[k].1))),
                    };
                    let brush = if brush.0 > far { (far, None) } else { brush };
                    if base + work + brush.0 < best.0 {
                        best = (base + work + brush.0, brush.1, Some((hand, end)));
                    }
                }
            }
            end += 1;
        }
        best
    }
}
