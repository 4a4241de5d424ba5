//! How long each horse's jobs take: what the barn wrote down, corrected by what they really took. A few odd days move an
//! estimate little, and a touch that was forgotten not at all: such a time is no time that a job can take.

use std::collections::{BTreeMap, VecDeque};

use serde::{Deserialize, Serialize};

use crate::book::{Book, Horse};
use crate::id::{HorseId, PersonId};
use crate::input::Step;
use crate::plan::day::Job;
use crate::time::Mono;
use crate::work::Work;

/// So many of the last times are kept for a horse and job.
const KEPT: usize = 20;
/// The barn's own figure counts like so many times seen.
const LEAN: u32 = 4;
/// Who has done fewer jobs than this is new to it.
const BEGINNER_JOBS: u32 = 10;
/// Beginners have an estimate of their own from so many times on.
const BEGINNERS_ENOUGH: usize = 5;
/// A time under a third or over three times the barn's own figure is a forgotten touch. Common practice; no source.
const BELIEVED: u32 = 3;

/// What was seen so far.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Habits {
    horses: BTreeMap<HorseId, [Times; 3]>,
    /// How many jobs each person has done.
    jobs: BTreeMap<PersonId, u32>,
}

#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
struct Times {
    practised: VecDeque<u32>,
    beginners: VecDeque<u32>,
}

/// How long a job is taken to last.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Estimate {
    /// Whole minutes, one or more.
    pub minutes: u32,
    /// On how many times it rests; none where it is the barn's own figure.
    pub times: u32,
}

impl Habits {
    /// Learns from a day's work: from each job that somebody began and finished, and said so both times.
    pub fn learn(&mut self, book: &Book, work: &Work) {
        let mut told: Vec<(Mono, &HorseId, Job, u32, &PersonId)> = work
            .stages()
            .filter_map(|(ride, step, stage)| {
                let job = job_of(step).filter(|_| !stage.implied)?;
                let minutes = stage.done?.since(stage.begun?).div_ceil(60_000);
                let horse = &book.rides.get(ride)?.horse;
                Some((stage.done?, horse, job, u32::try_from(minutes).ok()?, stage.by.as_ref()?))
            })
            .collect();
        told.sort_unstable_by(|a, b| (a.0, a.1, a.2).cmp(&(b.0, b.1, b.2)));
        for (_, id, job, minutes, by) in told {
            let Some(horse) = book.horses.get(id) else { continue };
            let written = written(horse, job);
            if minutes * BELIEVED < written || minutes > written * BELIEVED {
                continue;
            }
            let done = self.jobs.entry(by.clone()).or_default();
            let times = &mut self.horses.entry(id.clone()).or_default()[job as usize];
            let list = if *done < BEGINNER_JOBS { &mut times.beginners } else { &mut times.practised };
            *done += 1;
            if list.len() == KEPT {
                list.pop_front();
            }
            list.push_back(minutes);
        }
    }

    /// How long this job on this horse takes.
    ///
    /// Where only beginners can do it, their own times count, if there are enough. Otherwise those of practised people do,
    /// and beginners' only where nothing else is known.
    pub fn estimate(&self, horse: &Horse, job: Job, by_beginners: bool) -> Estimate {
        let written = written(horse, job);
        let Some(times) = self.horses.get(&horse.id).map(|jobs| &jobs[job as usize]) else {
            return Estimate { minutes: written.max(1), times: 0 };
        };
        let beginners = times.beginners.len() >= BEGINNERS_ENOUGH && (by_beginners || times.practised.is_empty());
        let list = if beginners { &times.beginners } else { &times.practised };
        let seen = u32::try_from(list.len()).unwrap_or(u32::MAX);
        let Some(median) = median(list) else { return Estimate { minutes: written.max(1), times: 0 } };
        let minutes = (seen * median + LEAN * written).div_ceil(seen + LEAN).max(1);
        Estimate { minutes, times: seen }
    }

    /// True where somebody has done few jobs so far.
    pub fn is_beginner(&self, person: &PersonId) -> bool {
        self.jobs.get(person).is_none_or(|done| *done < BEGINNER_JOBS)
    }
}

/// The barn's own figure.
fn written(horse: &Horse, job: Job) -> u32 {
    match job {
        Job::Brush => horse.minutes.brush.0,
        Job::Tack => horse.minutes.tack.0,
        Job::PutAway => horse.minutes.put_away.0,
    }
}

/// The job that a step is; leading out and bringing back are none that takes a groom's time.
pub fn job_of(step: Step) -> Option<Job> {
    match step {
        Step::Brush => Some(Job::Brush),
        Step::Tack => Some(Job::Tack),
        Step::PutAway => Some(Job::PutAway),
        Step::LeadOut | Step::BringBack => None,
    }
}

/// The upper of the two middle ones, where they are an even number: rather a minute too long than too short.
fn median(times: &VecDeque<u32>) -> Option<u32> {
    let mut sorted: Vec<u32> = times.iter().copied().collect();
    sorted.sort_unstable();
    sorted.get(sorted.len() / 2).copied()
}
