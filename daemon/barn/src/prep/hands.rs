//! A day looked at beforehand, whole: what is wrong by the book, and whether there are hands enough. That is found by planning
//! the day with whom the shift sheet has: what is missed or late, which horse stands too long, where staff would have to help.
//!
//! Where no groom is there at all, or none who is cleared, that is the finding and not what the plan makes of it. And what the
//! book's own times explain (tack needed twice, a horse in two places or away) is not told again in the words of the plan.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::id::RideId;
use crate::plan::day::{Day, Fault, Groom, JOBS, Job, Minute, Span};
use crate::plan::price::Task;
use crate::plan::reason::{Call, Why};
use crate::plan::{Effort, plan};
use crate::time::{LocalDay, TimeOfDay};

use super::day::{Known, day_file};
use super::findings::{Finding, Kind, findings, in_order};
use super::needed::needed;
use super::outing::{Outing, outings};

const HOUR: Minute = 60;

/// What a day comes to.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct DayLook {
    /// What is wrong, in order of time.
    pub findings: Vec<Finding>,
    /// Hour by hour, from the first to the last in which somebody is there or needed.
    pub hours: Vec<Hour>,
}

/// An hour's hands.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
pub struct Hour {
    /// When it begins.
    pub from: TimeOfDay,
    /// The most grooms that the sheet has at a time in it.
    pub on_sheet: usize,
    /// The least number of grooms, cleared for every horse, that would do.
    pub needed: usize,
}

/// Looks at a day that is still to come.
///
/// # Errors
/// Every fault of the day, where it is one that can not be planned.
pub fn look(known: &Known<'_>, day: LocalDay) -> Result<DayLook, Vec<Fault>> {
    let mut findings = findings(known, day);
    let told = findings.clone();
    let file = day_file(known, day, None);
    let needed = needed(&file)?;
    let checked = Day::checked(&file)?;
    let plan = plan(&checked, Effort::for_day(&checked), &mut || true);
    let look = Look { day, plan_day: &checked, rides: rides(known, day) };
    if checked.grooms.is_empty() && !checked.outings.is_empty() {
        findings.push(look.nobody_all_day());
    } else {
        for (i, (tasks, why)) in plan.tasks.iter().zip(&plan.why).enumerate() {
            let outing = &checked.outings[i];
            let explained = |finding: &Finding| {
                matches!(finding.kind, Kind::TackTwice | Kind::TwoPlaces | Kind::Away)
                    && look.rides_of(i).iter().any(|ride| finding.rides.contains(ride))
            };
            if !told.iter().any(explained) {
                let beyond = needed.beyond_hands.contains(&outing.id);
                findings.extend(look.outing(i, tasks.as_ref(), why.as_ref(), beyond));
            }
        }
    }
    in_order(&mut findings);
    Ok(DayLook { findings, hours: hours(day, &checked, &needed.by_hour) })
}

fn hours(day: LocalDay, plan_day: &Day, needed: &[usize]) -> Vec<Hour> {
    let hour = |(hour, needed): (usize, &usize)| {
        let from = hour as Minute * HOUR;
        let there = |minute| {
            let span = Span { from: minute, to: minute + 1 };
            plan_day.grooms.iter().filter(|groom| is_there(groom, span)).count()
        };
        let on_sheet = (from..from + HOUR).map(there).max().unwrap_or(0);
        Hour { from: day.time(from.into()), on_sheet, needed: *needed }
    };
    let hours: Vec<Hour> = needed.iter().enumerate().map(hour).collect();
    let counts = |hour: &Hour| hour.on_sheet + hour.needed > 0;
    let (first, last) = (hours.iter().position(counts), hours.iter().rposition(counts));
    match (first, last) {
        (Some(first), Some(last)) => hours[first..=last].to_vec(),
        _ => Vec::new(),
    }
}

/// Whether a groom is there in some of that time.
fn is_there(groom: &Groom, span: Span) -> bool {
    let there = Span { from: groom.shift.from.max(span.from), to: groom.shift.to.min(span.to) };
    there.from < there.to && !groom.away.iter().any(|away| away.from <= there.from && there.to <= away.to)
}

/// What would do where hands are too few.
fn one_more(grade: i64, from: TimeOfDay, to: TimeOfDay) -> String {
    format!("one more groom cleared for grade {grade} from {from} to {to}")
}

/// The rides of each outing, by the one that it has its name from.
fn rides(known: &Known<'_>, day: LocalDay) -> BTreeMap<String, Vec<RideId>> {
    let stay = i64::from(known.limits.plan.stay_tacked.0);
    let own = |outing: &Outing<'_>| outing.rides.iter().map(|one| one.ride.id.clone()).collect();
    let outings = outings(known.book, day, stay, &|ride| ride.dismount);
    outings.iter().map(|outing| (outing.first().ride.id.to_string(), own(outing))).collect()
}

struct Look<'a> {
    day: LocalDay,
    plan_day: &'a Day,
    rides: BTreeMap<String, Vec<RideId>>,
}

impl Look<'_> {
    fn time(&self, minute: Minute) -> TimeOfDay {
        self.day.time(minute.into())
    }

    fn name(&self, i: usize) -> &str {
        &self.plan_day.horses[self.plan_day.outings[i].horse].name
    }

    fn grade(&self, i: usize) -> i64 {
        self.plan_day.horses[self.plan_day.outings[i].horse].grade
    }

    fn rides_of(&self, i: usize) -> &[RideId] {
        self.rides.get(&self.plan_day.outings[i].id).map_or(&[], Vec::as_slice)
    }

    fn nobody_all_day(&self) -> Finding {
        let outings = &self.plan_day.outings;
        let first = outings.iter().map(|outing| outing.ready - outing.minutes[0] - outing.minutes[1]).min();
        let last = outings.iter().map(|outing| outing.back + outing.minutes[2]).max();
        let (from, to) = (self.time(first.unwrap_or(0)), self.time(last.unwrap_or(0)));
        Finding {
            from,
            to: Some(to),
            kind: Kind::Nobody,
            what: format!("no groom is on the shift sheet, and {} horses are to be readied", outings.len()),
            remedy: format!("grooms on the sheet from {from} to {to}"),
            rides: Vec::new(),
        }
    }

    /// What is wrong with an outing in the plan; `beyond` where more hands would not help.
    fn outing(&self, i: usize, tasks: Option<&[Task; 3]>, why: Option<&Why>, beyond: bool) -> Vec<Finding> {
        let outing = &self.plan_day.outings[i];
        let [brush, tack, _] = outing.minutes;
        let before = Span { from: outing.ready - brush - tack, to: outing.ready };
        let name = self.name(i);
        let Some(tasks) = tasks else {
            let why = why.map_or_else(|| "hands are elsewhere".to_owned(), Why::to_string);
            let what = format!("{name} can not be ready for {}: {why}", self.time(outing.mount));
            return vec![self.too_few(i, Kind::Missed, before, before, what, beyond)];
        };
        let mut found = self.calls_for_staff(i, tasks, why, beyond);
        let tacked = self.plan_day.end(outing, Job::Tack, tasks[Job::Tack as usize].start);
        if tacked > outing.ready {
            let (late, at) = (tacked - outing.ready, self.time(tacked));
            let what = format!("{name} is tacked at {at}, {late} minutes late");
            found.push(self.too_few(i, Kind::Late, before, before, what, beyond));
        }
        let put_away = tasks[Job::PutAway as usize].start;
        let stands = put_away - outing.back - self.plan_day.limits.stand as Minute;
        if stands > 0 {
            let span = Span { from: outing.back, to: put_away };
            let at = self.time(put_away);
            let what = format!("{name} stands tacked until {at}, {stands} minutes longer than it may");
            found.push(self.too_few(i, Kind::Standing, span, span, what, beyond));
        }
        found
    }

    /// A finding for each job that the plan gives to staff.
    fn calls_for_staff(&self, i: usize, tasks: &[Task; 3], why: Option<&Why>, beyond: bool) -> Vec<Finding> {
        let outing = &self.plan_day.outings[i];
        let jobs: Vec<Job> = JOBS.into_iter().filter(|job| tasks[*job as usize].hand.groom().is_none()).collect();
        let mut found: Vec<Finding> = Vec::new();
        for job in jobs {
            let from = tasks[job as usize].start;
            let span = Span { from, to: self.plan_day.end(outing, job, from) };
            let call = why.and_then(|why| why.call(job));
            let what = call.map_or_else(|| "staff are needed".to_owned(), Call::to_string);
            let call = self.too_few(i, Kind::Staff, span, span, what, beyond);
            match found.last_mut() {
                // Nobody to brush it and nobody to tack it up is one thing.
                Some(last) if call.kind != Kind::Staff && last.what == call.what && last.to == Some(call.from) => {
                    last.to = call.to;
                    last.remedy = one_more(self.grade(i), last.from, call.to.unwrap_or(last.from));
                }
                _ => found.push(call),
            }
        }
        found
    }

    /// Too few hands in `span`; or, where it is so, none at all, or none cleared, in the `stretch` in which the work is to
    /// be done.
    fn too_few(&self, i: usize, kind: Kind, span: Span, stretch: Span, what: String, beyond: bool) -> Finding {
        let (name, grade) = (self.name(i), self.grade(i));
        let there: Vec<&Groom> = self.plan_day.grooms.iter().filter(|groom| is_there(groom, stretch)).collect();
        let (kind, span, what) = if there.is_empty() {
            (Kind::Nobody, stretch, format!("no groom is on the sheet when {name} (grade {grade}) needs hands"))
        } else if there.iter().all(|groom| groom.grade < grade) {
            let names: Vec<&str> = there.iter().map(|groom| groom.name.as_str()).collect();
            let what =
                format!("nobody on the sheet is cleared for {name} (grade {grade}); there: {}", names.join(", "));
            (Kind::NobodyCleared, stretch, what)
        } else {
            (kind, span, what)
        };
        let (from, to) = (self.time(span.from), self.time(span.to));
        let remedy = if beyond && !matches!(kind, Kind::Nobody | Kind::NobodyCleared) {
            "another horse, other tack or another time; more hands would not help".to_owned()
        } else {
            one_more(grade, from, to)
        };
        Finding { from, to: Some(to), kind, what, remedy, rides: self.rides_of(i).to_vec() }
    }
}
