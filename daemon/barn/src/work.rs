//! How far each horse's preparation is, and whether it is in time. Three links close in order: brushed, tacked, led out.
//!
//! A horse is *ready by* its mount time less the lead; its preparation should *start by* that, less the minutes that
//! brushing and tacking take. It is *late* from the moment at which what is still to do no longer fits. Times here are
//! minutes after the local midnight of the day; this file knows no clock and no zone.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::board::{Job, Links, Pace};
use crate::book::{Book, JobMinutes, Lesson, Ride};
use crate::id::{PersonId, RideId};
use crate::input::{Mark, Step};
use crate::limits::LessonLimits;
use crate::time::Mono;

/// A groom may well begin this many minutes before it is needed. Common practice; no source.
const EARLY: i64 = 10;
/// A horse whose next ride, under the same tack, follows its last dismount within this many minutes stays tacked.
const STAY_TACKED: i64 = 20;

/// One mark on one step.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
struct Done {
    mark: Mark,
    at: Mono,
    by: Option<PersonId>,
}

/// The marks of a day.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Work {
    /// Of which day: the marks of another say nothing about today.
    date: Option<NaiveDate>,
    marks: BTreeMap<RideId, BTreeMap<Step, Done>>,
}

/// A ride of today with what is known of its preparation.
#[derive(Clone, PartialEq, Debug)]
pub struct Readiness<'a> {
    /// The ride.
    pub ride: &'a Ride,
    /// Its lesson.
    pub lesson: &'a Lesson,
    /// Mount time.
    pub mount: i64,
    /// Last dismount.
    pub dismount: i64,
    /// When it must be ready.
    pub ready_by: i64,
    /// When its preparation should begin.
    pub start_by: i64,
    /// The three links.
    pub links: Links,
    /// Whether it is in time.
    pub pace: Pace,
    /// The first step that is not done, when it must be done, and who is at it; none where all are.
    pub next: Option<(Job, i64, Option<PersonId>)>,
}

impl Work {
    /// A mark is set on a step. Steps before a done one count as done too: nobody tacks an unbrushed horse, they only
    /// forget to say so. Taking back a step takes back those after it.
    pub fn mark(
        &mut self,
        date: Option<NaiveDate>,
        ride: &RideId,
        step: Step,
        mark: Mark,
        by: Option<PersonId>,
        at: Mono,
    ) {
        self.turn_to(date);
        let steps = self.marks.entry(ride.clone()).or_default();
        let done = Done { mark, at, by };
        match mark {
            Mark::Open => steps.retain(|other, _| *other < step),
            Mark::Begun | Mark::Done => {
                for before in [Step::Brush, Step::Tack].into_iter().filter(|before| *before < step) {
                    if steps.get(&before).is_none_or(|mark| mark.mark != Mark::Done) {
                        steps.insert(before, Done { mark: Mark::Done, ..done.clone() });
                    }
                }
                steps.insert(step, done);
            }
        }
    }

    /// A day begins: yesterday's marks are of no use.
    pub fn turn_to(&mut self, date: Option<NaiveDate>) {
        if self.date != date && date.is_some() {
            self.date = date;
            self.marks.clear();
        }
    }

    /// All rides of the day, by mount time, with how far each is. `minute` is the time of day in minutes.
    pub fn readiness<'a>(
        &self,
        book: &'a Book,
        limits: &LessonLimits,
        date: NaiveDate,
        minute: i64,
        now: Mono,
    ) -> Vec<Readiness<'a>> {
        let mut list: Vec<Readiness<'a>> = Vec::new();
        for (ride, lesson) in book.rides_on(date) {
            let Some(horse) = book.horses.get(&ride.horse) else { continue };
            let mount = i64::from(lesson.start.minutes());
            let mut links = self.links(&ride.id, date);
            let before = list.iter().rev().find(|other| other.ride.horse == ride.horse);
            let mut follows = false;
            if let Some(before) = before {
                follows = before.ride.usage == ride.usage && mount - before.dismount <= STAY_TACKED;
                if follows {
                    links.brush = further(links.brush, before.links.brush);
                    links.tack = further(links.tack, before.links.tack);
                }
            }
            let JobMinutes { brush, tack, .. } = horse.minutes;
            let (brush, tack) = if follows { (0, 0) } else { (i64::from(brush.0), i64::from(tack.0)) };
            let ready_by = mount - i64::from(limits.ready_lead.0);
            let mut one = Readiness {
                ride,
                lesson,
                mount,
                dismount: mount + i64::from(lesson.minutes.0),
                ready_by,
                start_by: ready_by - brush - tack,
                links,
                pace: Pace::Later,
                next: None,
            };
            let busy = before.is_some_and(|before| minute < before.dismount && before.links.tack == Mark::Done);
            let to_do = self.left(&one, Step::Brush, brush, now) + self.left(&one, Step::Tack, tack, now);
            one.pace = pace(&one, to_do, minute, busy && follows);
            one.next = self.next_step(&one, tack);
            list.push(one);
        }
        list
    }

    fn links(&self, ride: &RideId, date: NaiveDate) -> Links {
        let of = |step: Step| {
            let steps = self.marks.get(ride).filter(|_| self.date == Some(date));
            steps.and_then(|steps| steps.get(&step)).map_or(Mark::Open, |done| done.mark)
        };
        Links { brush: of(Step::Brush), tack: of(Step::Tack), lead_out: of(Step::LeadOut) }
    }

    /// Minutes that a step still takes: all of it, what is left of it once begun (at least one), or none.
    fn left(&self, one: &Readiness<'_>, step: Step, minutes: i64, now: Mono) -> i64 {
        let mark = if step == Step::Brush { one.links.brush } else { one.links.tack };
        match mark {
            Mark::Done => 0,
            Mark::Open => minutes,
            Mark::Begun => {
                let begun = self.marks.get(&one.ride.id).and_then(|steps| steps.get(&step)).map(|done| done.at);
                let spent = begun.map_or(0, |at| i64::try_from(now.since(at) / 60_000).unwrap_or(i64::MAX));
                minutes.saturating_sub(spent).max(1)
            }
        }
    }

    fn next_step(&self, one: &Readiness<'_>, tack_minutes: i64) -> Option<(Job, i64, Option<PersonId>)> {
        let (job, step, done_by) = if one.links.brush != Mark::Done {
            (Job::Brush, Step::Brush, one.ready_by - tack_minutes)
        } else if one.links.tack != Mark::Done {
            (Job::Tack, Step::Tack, one.ready_by)
        } else if one.links.lead_out != Mark::Done {
            (Job::LeadOut, Step::LeadOut, one.mount)
        } else {
            return None;
        };
        let at_it = self.marks.get(&one.ride.id).and_then(|steps| steps.get(&step));
        let who = at_it.filter(|done| done.mark == Mark::Begun).and_then(|done| done.by.clone());
        Some((job, done_by, who))
    }
}

fn further(a: Mark, b: Mark) -> Mark {
    if a == Mark::Done || b == Mark::Done { Mark::Done } else { a }
}

fn pace(one: &Readiness<'_>, to_do: i64, minute: i64, at_work: bool) -> Pace {
    if one.links.lead_out == Mark::Done || to_do == 0 {
        Pace::Ready
    } else if at_work {
        // Out in the lesson before, under the same tack: nobody can be at it, and nobody need.
        Pace::Later
    } else if minute + to_do > one.ready_by {
        Pace::Late
    } else if minute + EARLY >= one.start_by {
        Pace::Now
    } else {
        Pace::Later
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::book::{Days, Horse};
    use crate::limits::Limits;
    use crate::time::TimeOfDay;
    use crate::units::Minutes;

    fn day() -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 6, 18).expect("a date")
    }

    /// Pepper takes 15 minutes to brush and 10 to tack; lessons of 45 minutes at these times. Lead 10.
    fn book(mounts: &[u16]) -> Book {
        let mut book = Book::default();
        book.horses.insert(
            "pepper".into(),
            Horse {
                id: "pepper".into(),
                name: "Pepper".to_owned(),
                stall: "3".into(),
                grade: 1,
                minutes: JobMinutes { brush: Minutes(15), tack: Minutes(10), put_away: Minutes(15) },
                notes: Vec::new(),
                most: crate::book::WorkLimits::default(),
            },
        );
        for (i, mount) in mounts.iter().enumerate() {
            let id = format!("l{i}");
            book.lessons.insert(
                id.as_str().into(),
                Lesson {
                    id: id.as_str().into(),
                    days: Days::On(day()),
                    start: TimeOfDay::from_minutes(*mount).expect("a time"),
                    minutes: Minutes(45),
                    instructor: "ines".into(),
                    place: "arena".to_owned(),
                },
            );
            let ride = format!("r{i}");
            book.rides.insert(
                ride.as_str().into(),
                Ride {
                    id: ride.as_str().into(),
                    lesson: id.as_str().into(),
                    horse: "pepper".into(),
                    usage: "lesson".to_owned(),
                    stirrups: None,
                    load: None,
                },
            );
        }
        book
    }

    fn at(work: &Work, book: &Book, minute: i64) -> Vec<(Pace, Option<(Job, i64)>)> {
        let limits = Limits::default().lessons;
        work.readiness(book, &limits, day(), minute, Mono(minute as u64 * 60_000))
            .into_iter()
            .map(|one| (one.pace, one.next.map(|(job, by, _)| (job, by))))
            .collect()
    }

    fn mark(work: &mut Work, minute: i64, ride: &str, step: Step, mark: Mark) {
        work.mark(Some(day()), &ride.into(), step, mark, Some("ana".into()), Mono(minute as u64 * 60_000));
    }

    #[test]
    fn a_horse_is_late_from_the_minute_its_work_no_longer_fits() {
        // Mount at 10:00 (600): ready by 590, start by 565.
        let (book, work) = (book(&[600]), Work::default());
        assert_eq!(at(&work, &book, 554), [(Pace::Later, Some((Job::Brush, 580)))]);
        assert_eq!(at(&work, &book, 555)[0].0, Pace::Now);
        assert_eq!(at(&work, &book, 565)[0].0, Pace::Now);
        assert_eq!(at(&work, &book, 566)[0].0, Pace::Late);
    }

    #[test]
    fn work_begun_and_done_counts() {
        let (book, mut work) = (book(&[600]), Work::default());
        mark(&mut work, 565, "r0", Step::Brush, Mark::Begun);
        assert_eq!(at(&work, &book, 572), [(Pace::Now, Some((Job::Brush, 580)))], "7 of 15 minutes are done");
        assert_eq!(at(&work, &book, 581)[0].0, Pace::Late, "brushed for 16 minutes and still at it");
        mark(&mut work, 578, "r0", Step::Brush, Mark::Done);
        assert_eq!(at(&work, &book, 579), [(Pace::Now, Some((Job::Tack, 590)))]);
        mark(&mut work, 588, "r0", Step::Tack, Mark::Done);
        assert_eq!(at(&work, &book, 589), [(Pace::Ready, Some((Job::LeadOut, 600)))]);
        mark(&mut work, 595, "r0", Step::LeadOut, Mark::Done);
        assert_eq!(at(&work, &book, 620), [(Pace::Ready, None)]);
    }

    #[test]
    fn a_forgotten_step_is_done_with_the_next_and_a_step_taken_back_takes_back_what_follows() {
        let (book, mut work) = (book(&[600]), Work::default());
        mark(&mut work, 570, "r0", Step::Tack, Mark::Done);
        assert_eq!(at(&work, &book, 570), [(Pace::Ready, Some((Job::LeadOut, 600)))]);
        mark(&mut work, 571, "r0", Step::Brush, Mark::Open);
        assert_eq!(at(&work, &book, 571), [(Pace::Late, Some((Job::Brush, 580)))]);
    }

    #[test]
    fn a_horse_that_stays_tacked_is_not_brushed_again() {
        // 10:00 to 10:45, again at 11:00 under the same tack; and at 13:00, long after.
        let (book, mut work) = (book(&[600, 660, 780]), Work::default());
        mark(&mut work, 588, "r0", Step::Tack, Mark::Done);
        let paces: Vec<_> = at(&work, &book, 630).into_iter().map(|(pace, _)| pace).collect();
        assert_eq!(paces, [Pace::Ready, Pace::Ready, Pace::Later]);
    }

    #[test]
    fn yesterdays_marks_are_not_todays() {
        let (book, mut work) = (book(&[600]), Work::default());
        let yesterday = day().pred_opt().expect("a date");
        work.mark(Some(yesterday), &"r0".into(), Step::Tack, Mark::Done, None, Mono(0));
        assert_eq!(at(&work, &book, 500)[0].1, Some((Job::Brush, 580)));
    }
}
