//! Goes through the minutes with every partial plan that may still end under a limit.
//!
//! At each minute a label starts one of its next jobs, or waits until the next minute at which it can. Of two labels with the
//! same jobs begun the one that is no worse in anything stays. Plans whose jobs do not stand tight are left out. Where all items before one are done in time for the best plan that is known
//! from it on, the rest is that plan.

use super::Purse;
use super::among::Among;
use super::items::{Cost, Item, Items};
use super::label::{Label, NONE, Stage, next_job};
use super::open::Open;
use super::ways::{Found, Ways};
use crate::plan::day::{Job, Minute};

/// How many labels a dive may look at.
const DIVE: u64 = 60;
/// So many comparisons are as much work as a label.
const COMPARED_A_LABEL: u64 = 10;

/// A job that a plan begins.
#[derive(Clone, Copy, Debug)]
pub(super) struct Step {
    before: u32,
    pub(super) item: usize,
    pub(super) job: Job,
    pub(super) hand: Option<usize>,
    pub(super) start: Minute,
}

impl Step {
    pub(super) fn new(item: usize, job: Job, hand: Option<usize>, start: Minute) -> Step {
        Step { before: NONE, item, job, hand, start }
    }
}

/// How a march ended.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(super) enum End {
    /// What the cheapest plan costs above the least of its items.
    Found(Cost),
    /// There is none within the limit.
    None,
    /// It was stopped before that was known.
    Stopped,
}

/// What is known of the items from one on.
#[derive(Clone, Default, Debug)]
pub(super) struct Rest {
    /// What they cost above their own least, at least.
    pub(super) above: Cost,
    /// A plan for them that costs just that.
    pub(super) plan: Vec<Step>,
}

/// How `busiest` counts in a march.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Counts {
    /// As a share of each minute.
    Shares,
    /// The same, but nothing is needless that may be better for what is worked before.
    Ways,
    /// As it is.
    Whole,
}

impl Counts {
    /// Whether minutes worked are compared, and not what they cost by shares.
    pub(super) fn exact(self) -> bool {
        self != Counts::Shares
    }
}

/// A march through the items from one on.
pub(super) struct March<'a> {
    pub(super) items: &'a Items<'a>,
    /// By item.
    pub(super) rest: &'a [Rest],
    first: usize,
    /// Only plans whose cost above the least of the items is no more.
    pub(super) limit: Cost,
    pub(super) counts: Counts,
    /// By item: all ways to do those from it on, where they are known; and those that this march has found to do all its items.
    pub(super) ways: &'a [Option<Ways>],
    pub(super) found_ways: Found,
    /// By item: the length of the shortest job from it on.
    pub(super) shortest: Vec<Minute>,
    /// By item: the first minute at which it can begin without passing the limit by itself; and the first at which it or one
    /// after it can.
    soonest: Vec<Minute>,
    soonest_of_rest: Vec<Minute>,
    labels: Vec<Label>,
    unused: Vec<u32>,
    /// By minute: labels that wait for it.
    waiting: Vec<Vec<u32>>,
    /// The labels of a minute, and those of them that the last one to come has beaten.
    among: Among,
    beaten: Vec<u32>,
    steps: Vec<Step>,
    found: Option<Cost>,
    best: Vec<Step>,
    /// In a dive: labels not looked at yet, and their minutes.
    diving: bool,
    open: Vec<(u32, Minute)>,
}

impl<'a> March<'a> {
    pub(super) fn new(
        items: &'a Items<'a>,
        rest: &'a [Rest],
        first: usize,
        limit: Cost,
        counts: Counts,
        ways: &'a [Option<Ways>],
    ) -> Self {
        // A tack whose brush has begun is paid in part already, and may be for less.
        let soonest = |item: &Item| if item.brushed.is_some() { 0 } else { item.soonest(item.own + limit) };
        let mut shortest = vec![Minute::MAX / 2; items.items.len() + 1];
        for (k, item) in items.items.iter().enumerate().rev() {
            let jobs = &items.day.outings[item.outing].minutes;
            shortest[k] = shortest[k + 1].min(*jobs.iter().min().unwrap_or(&0));
        }
        let soonest: Vec<Minute> = items.items.iter().map(soonest).collect();
        let mut soonest_of_rest = soonest.clone();
        for k in (1..soonest_of_rest.len()).rev() {
            soonest_of_rest[k - 1] = soonest_of_rest[k - 1].min(soonest_of_rest[k]);
        }
        March {
            items,
            shortest,
            rest,
            first,
            limit,
            counts,
            ways,
            found_ways: Found::default(),
            soonest,
            soonest_of_rest,
            labels: Vec::new(),
            unused: Vec::new(),
            waiting: vec![Vec::new(); items.minutes],
            among: Among::new(),
            beaten: Vec::new(),
            steps: Vec::new(),
            found: None,
            best: Vec::new(),
            diving: false,
            open: Vec::new(),
        }
    }

    /// Marches on for as many labels as `left` has.
    pub(super) fn run(&mut self, left: &mut Purse) -> End {
        let label = Label::new(self.items, self.first);
        if self.within(&label, 0) {
            self.labels.push(label);
            self.wait(0, -1);
        }
        for t in 0..self.items.minutes as Minute {
            if self.waiting[t as usize].is_empty() {
                continue;
            }
            self.among.clear();
            let mut here = Vec::new();
            for id in std::mem::take(&mut self.waiting[t as usize]) {
                self.labels[id as usize].waits = false;
                if self.labels[id as usize].dead {
                    self.unused.push(id);
                } else {
                    self.enter(id, t, &mut here);
                }
            }
            let mut at = 0;
            while let Some(&id) = here.get(at) {
                at += 1;
                if self.labels[id as usize].dead {
                    continue;
                }
                self.start_jobs(id, t, &mut here);
                self.wait(id, t);
                if !left.spend(1 + self.among.compared() / COMPARED_A_LABEL) {
                    return End::Stopped;
                }
            }
            let labels = &self.labels;
            let dead = here.into_iter().filter(|&id| labels[id as usize].dead && !labels[id as usize].waits);
            self.unused.extend(dead);
        }
        self.found.map_or(End::None, End::Found)
    }

    /// Looks for any plan within the limit first, by going as far as it can before it looks at other ways.
    pub(super) fn dive(&mut self, left: &mut Purse) -> Option<Cost> {
        let label = Label::new(self.items, self.first);
        self.diving = true;
        if self.within(&label, 0) {
            self.labels.push(label);
            self.wait(0, -1);
        }
        let mut looked_at = 0;
        let mut here = Vec::new();
        while let Some((id, t)) = self.open.pop().filter(|_| looked_at < DIVE && left.spend(1)) {
            looked_at += 1;
            self.start_jobs(id, t, &mut here);
            self.wait(id, t);
            self.open.extend(here.drain(..).map(|id| (id, t)));
            if self.found.is_some() {
                break;
            }
        }
        self.found
    }

    /// The steps of the cheapest plan found.
    pub(super) fn into_plan(self) -> Vec<Step> {
        self.best
    }

    /// Puts a label among those of a minute, unless one there is no worse.
    fn enter(&mut self, id: u32, t: Minute, here: &mut Vec<u32>) {
        if self.diving {
            here.push(id);
            return;
        }
        let mark = self.labels[id as usize].mark(self.items, t, self.counts.exact());
        let (labels, items, exact) = (&self.labels, self.items, self.counts.exact());
        let beats =
            |x: u32, y: u32, cheaper: Cost| labels[x as usize].beats(&labels[y as usize], items, t, exact, cheaper);
        let beaten = &mut self.beaten;
        if !self.among.enter(t, mark, id, beats, |other| beaten.push(other)) {
            self.unused.push(id);
            return;
        }
        for other in self.beaten.drain(..) {
            self.labels[other as usize].dead = true;
        }
        here.push(id);
    }

    /// Every job that a label may start now, by every hand.
    fn start_jobs(&mut self, id: u32, t: Minute, here: &mut Vec<u32>) {
        for k in usize::from(self.labels[id as usize].window.0)..self.items.items.len() {
            if t < self.soonest_of_rest[k] {
                break;
            }
            let label = &self.labels[id as usize];
            let stage = label.stage(k);
            if stage == Stage::Done || t < self.soonest[k] {
                continue;
            }
            let items = self.items;
            let item = &items.items[k];
            let job = next_job(stage, item.half);
            let at = if job == Job::Brush { &item.first_at } else { &item.last_at };
            let paid = label.paid[k] - item.own;
            if at[t as usize] + paid > self.limit {
                continue;
            }
            let Some(release) = self.release(label, k, job).filter(|&release| release <= t) else { continue };
            let length = items.length(k, job);
            let horse = self.horse(k);
            if !horse.fits(t, length) {
                continue;
            }
            let horse_earlier = release < t && horse.fits(t - 1, length);
            for &g in &item.cleared {
                let free = Minute::from(self.labels[id as usize].free[g]);
                if free > t || !items.open[g].fits(t, length) {
                    continue;
                }
                let earlier = horse_earlier && free < t && items.open[g].fits(t - 1, length);
                self.start(id, Step::new(k, job, Some(g), t), earlier, here);
            }
            if self.labels[id as usize].excess_by_staff(items, k) <= self.limit {
                self.start(id, Step::new(k, job, None, t), horse_earlier, here);
            }
        }
    }

    /// When the next job of an item may begin for the sake of its own outing and of others; `None` where one of these comes
    /// first.
    fn release(&self, label: &Label, k: usize, job: Job) -> Option<Minute> {
        let item = &self.items.items[k];
        let (mut release, before, dry) = match job {
            Job::Brush => (item.brush_release, &item.horse_before, 0),
            Job::Tack => {
                let brushed = Minute::from(label.ends[k]);
                (item.release.max(brushed), &item.gear_before, self.items.dry())
            }
            Job::PutAway => {
                let tacked = |front: usize| label.stage(front) == Stage::Done;
                return item.front.is_none_or(tacked).then_some(item.release);
            }
        };
        for &other in before {
            if label.stage(other) != Stage::Done {
                return None;
            }
            release = release.max(Minute::from(label.ends[other]) + dry);
        }
        Some(release)
    }

    /// Starts a job, if that makes a label worth keeping. `earlier`: it could have begun a minute before.
    fn start(&mut self, id: u32, step: Step, earlier: bool, here: &mut Vec<u32>) {
        let Step { item: k, job, hand, start, .. } = step;
        let end = start + self.items.length(k, job);
        let late = Job::Tack == job && end > self.items.items[k].ready;
        let early = job == Job::Brush || job == Job::Tack && end < self.items.items[k].ready;
        if earlier && (late || job == Job::PutAway) && self.tight(job) {
            return;
        }
        let was = &self.labels[id as usize];
        let mut label = was.clone();
        label.begin(self.items, k, job, hand, start, early);
        if !self.within(&label, start) {
            return;
        }
        self.steps.push(Step { before: label.step, ..step });
        label.step = self.steps.len() as u32 - 1;
        if self.counts != Counts::Ways {
            self.finish(&label);
        }
        if self.counts != Counts::Shares && self.hand_over(&label)
            || usize::from(label.window.0) == self.items.items.len()
            || self.found.is_some() && !self.within(&label, start)
        {
            return;
        }
        let id = match self.unused.pop() {
            Some(unused) => {
                self.labels[unused as usize] = label;
                unused
            }
            None => {
                self.labels.push(label);
                self.labels.len() as u32 - 1
            }
        };
        self.enter(id, start, here);
    }

    /// Where only items are left for which a plan is known, and it fits, that is the end.
    fn finish(&mut self, label: &Label) {
        let (from, to) = label.window;
        let next = usize::from(from);
        if from != to || next < self.items.items.len() && self.rest[next].plan.is_empty() || !self.fits(label, next) {
            return;
        }
        let mut cost = label.settled + self.rest[next].above;
        if self.counts == Counts::Whole {
            let mut whole = label.clone();
            for step in self.rest[next].plan.iter() {
                if let Some(g) = step.hand {
                    whole.worked[g] += self.items.length(step.item, step.job);
                }
            }
            cost += whole.uneven(self.items, 0, true);
        }
        let rest = self.rest;
        self.found(cost, label.step, &rest[next].plan);
    }

    /// Keeps a plan, as the last step before the rest and the plan of that, where it is within the limit.
    pub(super) fn found(&mut self, cost: Cost, step: u32, rest: &[Step]) {
        if cost <= self.limit {
            self.found = Some(cost);
            self.limit = cost - 1;
            self.best = self.plan(step, rest);
        }
    }

    /// The steps up to one, and the rest.
    pub(super) fn plan(&self, step: u32, rest: &[Step]) -> Vec<Step> {
        let mut plan = rest.to_vec();
        let mut at = step;
        while let Some(&step) = self.steps.get(at as usize) {
            plan.push(step);
            at = step.before;
        }
        plan
    }

    /// Whether the plan that is known for the items from one on can follow a label.
    fn fits(&self, label: &Label, next: usize) -> bool {
        let dry = self.items.dry();
        let end = |k: &usize| Minute::from(label.ends[*k]);
        let before = |list: &[usize]| list.iter().filter(|&&k| k < next).map(end).max().unwrap_or(0);
        self.rest.get(next).is_none_or(|rest| {
            rest.plan.iter().all(|step| {
                let item = &self.items.items[step.item];
                step.hand.is_none_or(|g| Minute::from(label.free[g]) <= step.start)
                    && match step.job {
                        Job::Brush => before(&item.horse_before) <= step.start,
                        Job::Tack => item.gear_before.is_empty() || before(&item.gear_before) + dry <= step.start,
                        Job::PutAway => true,
                    }
            })
        })
    }

    /// Lets a label wait until the next minute at which it can start something, or drops it.
    fn wait(&mut self, id: u32, t: Minute) {
        let label = &self.labels[id as usize];
        let next = self.next_start(label, t);
        let keep = next < self.items.minutes as Minute
            && !(0..self.items.open.len()).any(|g| self.loose(label, g, next))
            && !self.loose_staff(label, next)
            && self.within(label, next);
        if keep && self.diving {
            self.open.push((id, next));
        } else if keep {
            self.labels[id as usize].waits = true;
            self.waiting[next as usize].push(id);
        } else {
            self.labels[id as usize].dead = true;
        }
    }

    pub(super) fn horse(&self, k: usize) -> &'a Open {
        &self.items.horses[self.items.day.outings[self.items.items[k].outing].horse]
    }

    /// The first minute after `t` at which a label may start one of its jobs without passing the limit.
    fn next_start(&self, label: &Label, t: Minute) -> Minute {
        let minutes = self.items.minutes as Minute;
        let mut next = minutes;
        for k in usize::from(label.window.0)..self.items.items.len() {
            if self.soonest_of_rest[k] >= next {
                break;
            }
            let item = &self.items.items[k];
            let stage = label.stage(k);
            if stage == Stage::Done || self.soonest[k] >= next {
                continue;
            }
            let job = next_job(stage, item.half);
            let Some(release) = self.release(label, k, job) else { continue };
            let at = if job == Job::Brush { &item.first_at } else { &item.last_at };
            let most = self.limit - label.settled - label.paid[k] + item.own;
            let mut from = release.max(t + 1).max(self.soonest[k]);
            if label.excess_by_staff(self.items, k) > self.limit {
                let free = |&g: &usize| self.items.open[g].from(Minute::from(label.free[g]).max(from));
                from = item.cleared.iter().map(free).min().unwrap_or(minutes);
            }
            while from < next && at[from as usize] > most {
                from += 1;
            }
            next = next.min(from);
        }
        next
    }
}
