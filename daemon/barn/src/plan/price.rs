//! What a plan costs, part by part, and which rules it breaks.
//!
//! This is the model itself, written for reading and not for speed: the search keeps its own books, and tests hold them
//! against this. It takes any plan, wrong ones included.

use super::day::{Day, Hand, JOBS, Job, Minute, Span};

/// Who does a job, and from when.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Task {
    /// Who.
    pub hand: Hand,
    /// From when.
    pub start: Minute,
}

/// Every outing of a day in the day's order: its three jobs, or `None` where it is missed.
pub type Tasks = Vec<Option<[Task; 3]>>;

/// The cost of a plan by part. The parts are described at [`CostsFile`](super::file::CostsFile).
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
#[allow(missing_docs)]
pub struct Parts {
    pub missed: i64,
    pub staff: i64,
    pub late: i64,
    pub standing: i64,
    pub back_wait: i64,
    pub saddled_wait: i64,
    pub brushed_wait: i64,
    pub handover: i64,
    pub reshuffle: i64,
    pub busiest: i64,
}

impl Parts {
    /// All parts together.
    pub fn total(&self) -> i64 {
        self.missed
            + self.staff
            + self.late
            + self.standing
            + self.back_wait
            + self.saddled_wait
            + self.brushed_wait
            + self.handover
            + self.reshuffle
            + self.busiest
    }
}

/// A plan looked at.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Price {
    /// The cost by part.
    pub parts: Parts,
    /// Each rule broken, in words for whoever debugs a planner.
    pub broken: Vec<String>,
}

/// Time of a groom or a piece of gear that is taken.
struct Use {
    span: Span,
    outing: usize,
    begun: bool,
}

/// Prices a plan. `tasks` has one entry for every outing of the day.
pub fn price(day: &Day, tasks: &Tasks) -> Price {
    let mut price = Price::default();
    let mut worked: Vec<Vec<Use>> = day.grooms.iter().map(|_| Vec::new()).collect();
    let mut in_use: Vec<Vec<Use>> = day.gear.iter().map(|_| Vec::new()).collect();
    let mut by_horse: Vec<Vec<(usize, Minute, Minute)>> = vec![Vec::new(); day.horses.len()];
    for (i, (outing, tasks)) in day.outings.iter().zip(tasks).enumerate() {
        let Some(tasks) = tasks else {
            price.parts.missed += day.costs.missed * outing.weight;
            if !outing.can_be_missed() {
                price.broken.push(format!("{}: missed although it has been tacked", outing.id));
            }
            continue;
        };
        let spans = JOBS.map(|job| {
            let task = tasks[job as usize];
            Span { from: task.start, to: day.end(outing, job, task.start) }
        });
        for job in JOBS {
            price.job(day, i, job, tasks[job as usize], spans[job as usize]);
            if let Some(groom) = tasks[job as usize].hand.groom() {
                let begun = outing.begun[job as usize].is_some();
                worked[groom].push(Use { span: spans[job as usize], outing: i, begun });
            }
        }
        price.outing(day, i, tasks, spans);
        let begun = !outing.can_be_missed();
        let girth_free = spans[2].to + day.limits.girth_dry as Minute;
        for &piece in &outing.gear {
            let span = Span { from: spans[1].from, to: girth_free };
            in_use[piece].push(Use { span, outing: i, begun });
        }
        by_horse[outing.horse].push((i, spans[0].from, spans[2].to));
    }
    for (groom, uses) in worked.iter().enumerate() {
        price.overlaps(day, &day.grooms[groom].id, uses);
    }
    for (piece, uses) in in_use.iter().enumerate() {
        price.overlaps(day, &day.gear[piece], uses);
    }
    for done in &by_horse {
        for pair in done.windows(2) {
            let (before, (i, brush, _)) = (pair[0], pair[1]);
            if brush < before.2 && day.outings[i].begun[0].is_none() {
                let (a, b) = (&day.outings[before.0].id, &day.outings[i].id);
                price.broken.push(format!("{b} begins before {a} is put away"));
            }
        }
    }
    let minutes = |uses: &Vec<Use>| uses.iter().map(|used| i64::from(used.span.to - used.span.from)).sum();
    price.parts.busiest = day.costs.busiest * worked.iter().map(minutes).max().unwrap_or(0);
    price
}

impl Price {
    /// One job by itself.
    fn job(&mut self, day: &Day, i: usize, job: Job, task: Task, span: Span) {
        let outing = &day.outings[i];
        let mut broken = |what: &str| self.broken.push(format!("{} {}: {what}", outing.id, job.name()));
        if let Some(begun) = outing.begun[job as usize] {
            if task.hand != begun.hand || task.start != begun.span.from {
                broken("moved although it has begun");
            }
            return;
        }
        if day.now.is_some_and(|now| task.start < now) {
            broken("starts before now");
        }
        if day.horses[outing.horse].away.iter().any(|away| away.overlaps(span)) {
            broken("the horse is away");
        }
        match task.hand.groom() {
            None => self.parts.staff += day.costs.staff * outing.weight,
            Some(g) => {
                let groom = &day.grooms[g];
                if !day.cleared(g, outing.horse) {
                    broken(&format!("{} is not cleared", groom.id));
                }
                if span.from < groom.shift.from || span.to > groom.shift.to {
                    broken(&format!("{} is off shift", groom.id));
                }
                if groom.away.iter().any(|away| away.overlaps(span)) {
                    broken(&format!("{} is away", groom.id));
                }
            }
        }
        if outing.promised[job as usize].is_some_and(|hand| hand != task.hand) {
            self.parts.reshuffle += day.costs.reshuffle;
        }
    }

    /// The jobs of one outing together.
    fn outing(&mut self, day: &Day, i: usize, tasks: &[Task; 3], [brush, tack, put_away]: [Span; 3]) {
        let outing = &day.outings[i];
        let tack_begun = !outing.can_be_missed();
        if tack.from < brush.to && !tack_begun {
            self.broken.push(format!("{}: tacked before brushed", outing.id));
        }
        if put_away.from < outing.back.max(tack.to) && outing.begun[2].is_none() {
            self.broken.push(format!("{}: put away before it is back", outing.id));
        }
        let late = i64::from(tack.to - outing.ready);
        if late > day.limits.ready_lead && !tack_begun {
            self.broken.push(format!("{}: not ready by mount time", outing.id));
        }
        let wait = i64::from(put_away.from - outing.back).max(0);
        let (costs, parts) = (&day.costs, &mut self.parts);
        parts.late += costs.late * outing.weight * late.max(0);
        parts.saddled_wait += costs.saddled_wait * (-late).max(0);
        parts.brushed_wait += costs.brushed_wait * i64::from(tack.from - brush.to).max(0);
        parts.back_wait += costs.back_wait * wait;
        parts.standing += costs.standing * (wait - day.limits.stand).max(0);
        if tasks[0].hand != tasks[1].hand {
            parts.handover += costs.handover;
        }
    }

    /// What is used twice at a time. Two uses that have both begun are not judged.
    fn overlaps(&mut self, day: &Day, name: &str, uses: &[Use]) {
        for (k, a) in uses.iter().enumerate() {
            for b in &uses[k + 1..] {
                if a.span.overlaps(b.span) && !(a.begun && b.begun) {
                    let (a, b) = (&day.outings[a.outing].id, &day.outings[b.outing].id);
                    self.broken.push(format!("{name}: {a} and {b} overlap"));
                }
            }
        }
    }
}
