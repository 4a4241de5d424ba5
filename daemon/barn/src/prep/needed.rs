//! The least number of grooms with whom a day would go well, hour by hour: the day is planned with so many grooms, cleared
//! for every horse, and with fewer and fewer until something goes wrong.
//!
//! *Well* is: no outing missed, none late, no call for staff, no horse under its tack more than an hour before it must be
//! ready, and none longer under it after the ride than it may stand. What goes wrong with as many grooms as there are outings is no matter of hands and is let be.
//! A plan is found by searching, so a day might go with fewer still; it never needs more.

use crate::plan::day::{Day, Fault, JOBS, Job, Minute};
use crate::plan::file::{CostsFile, DayFile, GroomFile};
use crate::plan::{Effort, Plan, plan};

/// What makes such a plan dear is what makes it go wrong; who does what is all the same, as nobody is named.
const COSTS: CostsFile = CostsFile {
    missed: 100_000,
    staff: 20_000,
    late: 1_000,
    standing: 400,
    back_wait: 2,
    saddled_wait: 20,
    brushed_wait: 1,
    handover: 0,
    reshuffle: 0,
    busiest: 0,
};

/// Many days are planned to learn this, so each gets a part of what a day is worth.
const SHARE_OF_EFFORT: u64 = 4;
const MOST_EFFORT: u64 = 4_000;

const HOUR: Minute = 60;
const HOURS: usize = (crate::plan::day::LAST_MINUTE / HOUR) as usize;

/// How many grooms would do.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(super) struct Needed {
    /// By hour from the day's first midnight.
    pub by_hour: Vec<usize>,
    /// Outings that go wrong however many there are, by the ids of their first rides.
    pub beyond_hands: Vec<String>,
}

/// How many grooms would do for a day that is still to come, whoever is on its sheet.
///
/// # Errors
/// Every fault of the day, where it is one that can not be planned.
pub(super) fn needed(file: &DayFile) -> Result<Needed, Vec<Fault>> {
    let mut trial = Trial { file: DayFile { costs: COSTS, ..file.clone() }, wrong: 0 };
    let plenty = file.rides.len();
    let (day, best) = trial.planned(&[plenty; HOURS])?;
    let beyond_hands: Vec<String> = wrong(&day, &best).map(|i| day.outings[i].id.clone()).collect();
    trial.wrong = beyond_hands.len();

    let all_day = least(plenty, |grooms| trial.goes_well(&[grooms; HOURS]))?;
    let (day, plan) = trial.planned(&[all_day; HOURS])?;
    let mut by_hour = busy_hours(&day, &plan, all_day);
    // Peaks first: an hour gives up its last hand only when no hour can give up a second one.
    for grooms in (0..all_day).rev() {
        for hour in 0..HOURS {
            if by_hour[hour] == grooms + 1 {
                let mut fewer = by_hour.clone();
                fewer[hour] = grooms;
                if trial.goes_well(&fewer)? {
                    by_hour = fewer;
                }
            }
        }
    }
    Ok(Needed { by_hour, beyond_hands })
}

/// The least number that is enough; `most` is.
fn least(most: usize, mut enough: impl FnMut(usize) -> Result<bool, Vec<Fault>>) -> Result<usize, Vec<Fault>> {
    let (mut low, mut high) = (0, most);
    while low < high {
        let middle = low.midpoint(high);
        if enough(middle)? {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    Ok(high)
}

struct Trial {
    file: DayFile,
    /// How many outings may go wrong.
    wrong: usize,
}

impl Trial {
    fn goes_well(&mut self, by_hour: &[usize]) -> Result<bool, Vec<Fault>> {
        let (day, plan) = self.planned(by_hour)?;
        Ok(wrong(&day, &plan).count() <= self.wrong)
    }

    fn planned(&mut self, by_hour: &[usize]) -> Result<(Day, Plan), Vec<Fault>> {
        let grade = self.file.horses.iter().map(|horse| horse.grade).max().unwrap_or(0);
        self.file.grooms = grooms(by_hour, grade);
        let day = Day::checked(&self.file)?;
        let effort = Effort((Effort::for_day(&day).0 / SHARE_OF_EFFORT).min(MOST_EFFORT));
        let plan = plan(&day, effort, &mut || true);
        Ok((day, plan))
    }
}

/// Grooms such that so many are there in each hour: the first comes whenever one is needed, the second whenever two are.
fn grooms(by_hour: &[usize], grade: i64) -> Vec<GroomFile> {
    let minute = |hour: usize| hour as i64 * i64::from(HOUR);
    let groom = |nth: usize| {
        let there = |hour: &usize| by_hour[*hour] > nth;
        let first = (0..by_hour.len()).find(there)?;
        let last = (0..by_hour.len()).rfind(there)?;
        let away = (first..last).filter(|hour| !there(hour)).map(|hour| [minute(hour), minute(hour + 1)]);
        Some(GroomFile {
            id: format!("groom {}", nth + 1),
            on: minute(first),
            off: minute(last + 1),
            grade,
            away: away.collect(),
        })
    };
    (0..by_hour.iter().copied().max().unwrap_or(0)).filter_map(groom).collect()
}

/// The outings that do not go well.
fn wrong<'a>(day: &'a Day, plan: &'a Plan) -> impl Iterator<Item = usize> + 'a {
    let stand = day.limits.stand as Minute;
    day.outings.iter().zip(&plan.tasks).enumerate().filter_map(move |(i, (outing, tasks))| {
        let Some(tasks) = tasks else { return Some(i) };
        let tacked = day.end(outing, Job::Tack, tasks[Job::Tack as usize].start);
        let well = tasks.iter().all(|task| task.hand.groom().is_some())
            && tacked <= outing.ready
            && outing.ready - tacked <= HOUR
            && tasks[Job::PutAway as usize].start - outing.back <= stand;
        (!well).then_some(i)
    })
}

/// So many grooms in the hours in which the plan has anybody working, none in the others.
fn busy_hours(day: &Day, plan: &Plan, grooms: usize) -> Vec<usize> {
    let mut by_hour = vec![0; HOURS];
    for (outing, tasks) in day.outings.iter().zip(&plan.tasks) {
        for job in JOBS {
            let Some(task) = tasks.map(|tasks| tasks[job as usize]) else { continue };
            let last = day.end(outing, job, task.start) - 1;
            for hour in task.start / HOUR..=last / HOUR {
                if let Some(hour) = usize::try_from(hour).ok().and_then(|hour| by_hour.get_mut(hour)) {
                    *hour = grooms;
                }
            }
        }
    }
    by_hour
}
