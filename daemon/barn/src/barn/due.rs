//! The barn and what is due: horses that are late for their lesson, lessons that nobody can ready or nobody is there for, horses
//! that were taken out and in whose place no other goes; and the hub's own needs, its clock and its disk.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::Barn;
use crate::alarm::{Cause, Verdict};
use crate::board::{AlarmWhat, Pace, Priority};
use crate::book::Horse;
use crate::effect::Effect;
use crate::id::{HorseId, LessonId};
use crate::input::Room;
use crate::prep::Live;
use crate::prep::outing::Mounted;
use crate::prep::readiness::{Readiness, readiness};
use crate::time::{Mono, Now, TimeOfDay, Today};
use crate::timers::Timer;
use crate::units::Minutes;

/// The lessons are looked at so often.
const LOOK_MS: u64 = 5 * 60_000;
/// A plan may change its mind: what it misses must stay so long.
const MISSED_AFTER: Minutes = Minutes(5);
/// Whoever takes a horse out has so long to see who can go in its place. Common practice; no source.
const CHOSEN_WITHIN: Minutes = Minutes(10);
/// Lessons that begin later than so many minutes from now are nobody's worry yet.
const SOON: i64 = 180;
/// Where nobody has signed in for so long, signing in is not the custom, and nobody is missed by it.
const CUSTOM_MS: u64 = 14 * 24 * 3_600_000;
/// Room that was short is not so again before this share over the limit is free, in percent: logs come and go.
const DISK_DEADBAND: u64 = 120;
const MIB: u64 = 1 << 20;

/// What is known of what is due.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub(crate) struct Due {
    /// When somebody was last seen to be signed in.
    last_here: Option<Mono>,
    /// What room there was when it was last measured.
    disk: Option<Room>,
    /// When the last digest was due.
    pub(super) digested: Option<Mono>,
}

impl Barn {
    /// Looks at the lessons, and again in a while.
    pub(super) fn look_at_lessons(&mut self, now: Now, effects: &mut Vec<Effect>) {
        if self.book.people.keys().any(|person| self.shift.here_since(person).is_some()) {
            self.due.last_here = Some(now.mono);
        }
        if let Some(today) = Today::of(self.limits.zone, now) {
            for (cause, verdict) in self.lessons_due(&today, now.mono) {
                self.alarms.assess(cause, verdict, now, &mut self.timers, effects);
            }
            self.timers.arm(Timer::Lessons, Mono((now.mono.0 / LOOK_MS + 1) * LOOK_MS));
        }
    }

    /// What is to be said of today's lessons; what stood for others is gone.
    fn lessons_due(&self, today: &Today, now: Mono) -> BTreeMap<Cause, Verdict> {
        let of_lessons = |cause: &Cause| {
            matches!(cause, Cause::Late(_) | Cause::NobodyFor(_) | Cause::NoHorse(_) | Cause::NobodyHere)
        };
        let stood = self.alarms.causes().into_iter().filter(of_lessons);
        let mut said: BTreeMap<Cause, Verdict> = stood.map(|cause| (cause, Verdict::Gone)).collect();
        let live = self.live(today);
        let rides = readiness(&self.known(), &live);
        for (lesson, (start, horses)) in self.late(&rides, &live) {
            let what = AlarmWhat::LateHorses { lesson: start, horses };
            said.insert(Cause::Late(lesson), holds(Minutes(0), what));
        }
        for (lesson, (start, horses, why)) in self.missed(&live) {
            let what = AlarmWhat::NobodyFor { lesson: start, horses, why };
            said.insert(Cause::NobodyFor(lesson), holds(MISSED_AFTER, what));
        }
        for (id, lessons) in self.not_replaced(&rides, &live) {
            if let Some(Horse { name, stall, .. }) = self.book.horses.get(&id) {
                let what = AlarmWhat::NoHorse { horse: name.clone(), stall: stall.clone(), lessons };
                said.insert(Cause::NoHorse(id), holds(CHOSEN_WITHIN, what));
            }
        }
        if let Some(lesson) = self.unattended(today, now) {
            said.insert(Cause::NobodyHere, holds(Minutes(0), AlarmWhat::NobodyHere { lesson }));
        }
        said
    }

    /// Horses that will be late for their lesson by the limit or more. Where nobody has said anything of today's work, nobody
    /// knows.
    fn late(&self, rides: &[Readiness<'_>], live: &Live<'_>) -> BTreeMap<LessonId, (TimeOfDay, Vec<String>)> {
        let mut late: BTreeMap<LessonId, (TimeOfDay, Vec<String>)> = BTreeMap::new();
        if live.work.stages().next().is_none() {
            return late;
        }
        for one in rides {
            let goes =
                one.current && live.today.now() < one.one.dismount && !live.scratched.contains(&one.one.ride.horse);
            if goes && one.pace == Pace::Late && one.late_by >= i64::from(self.limits.alarms.late.0) {
                let horses = &mut late.entry(one.one.lesson.id.clone()).or_insert((one.one.lesson.start, Vec::new())).1;
                horses.extend(self.book.horses.get(&one.one.ride.horse).map(|horse| horse.name.clone()));
            }
        }
        late
    }

    /// Outings that can not be had, by the plan that people see.
    fn missed(&self, live: &Live<'_>) -> BTreeMap<LessonId, (TimeOfDay, Vec<String>, String)> {
        let mut missed: BTreeMap<LessonId, (TimeOfDay, Vec<String>, String)> = BTreeMap::new();
        let Some(shown) = live.shown else { return missed };
        for outing in self.known().standing(live) {
            let first = outing.first();
            let told = shown.outings.iter().find(|told| told.missed && told.ride == first.ride.id.as_str());
            let Some(told) = told.filter(|_| is_soon(first.mount, live.today)) else { continue };
            let why = told.why.clone().unwrap_or_default();
            let entry = missed.entry(first.lesson.id.clone()).or_insert((first.lesson.start, Vec::new(), why));
            entry.1.push(outing.horse.name.clone());
        }
        missed
    }

    /// Horses that were taken out and in whose place no other goes, with their lessons that are still to come, where the first of these
    /// is near or somebody was told.
    fn not_replaced(&self, rides: &[Readiness<'_>], live: &Live<'_>) -> BTreeMap<HorseId, Vec<TimeOfDay>> {
        let mut open: BTreeMap<HorseId, Vec<TimeOfDay>> = BTreeMap::new();
        let today = live.today;
        for one in rides {
            let Mounted { ride, lesson, mount, .. } = one.one;
            let told = || open.contains_key(&ride.horse) || self.alarms.stands(&Cause::NoHorse(ride.horse.clone()));
            if mount >= today.now() && self.is_without(one, live) && (is_soon(mount, today) || told()) {
                open.entry(ride.horse.clone()).or_default().push(lesson.start);
            }
        }
        open
    }

    /// The next lesson with a ride, where it is due and nobody is signed in.
    fn unattended(&self, today: &Today, now: Mono) -> Option<TimeOfDay> {
        let custom = self.due.last_here.is_some_and(|last| now.since(last) < CUSTOM_MS);
        if !custom || self.book.people.keys().any(|person| self.shift.here_since(person).is_some()) {
            return None;
        }
        let before = i64::from(self.limits.alarms.nobody_before.0);
        let rides = self.book.rides_on(today.day().date());
        let due = rides.iter().find(|(_, lesson)| {
            let start = today.day().minute_of(lesson.start);
            (start - before..start + i64::from(lesson.minutes.0)).contains(&today.now())
        });
        due.map(|(_, lesson)| lesson.start)
    }
}

/// Whether a lesson is still to come, and near enough to be somebody's worry.
fn is_soon(mount: i64, today: &Today) -> bool {
    (today.now()..today.now() + SOON).contains(&mount)
}

fn holds(delay: Minutes, what: AlarmWhat) -> Verdict {
    Verdict::Holds { delay: delay.as_millis(), priority: Priority::Medium, what }
}

/// The hub's own needs.
impl Barn {
    /// Whether anybody knows what time it is.
    pub(super) fn judge_clock(&mut self, now: Now, effects: &mut Vec<Effect>) {
        let verdict = match now.wall.get() {
            Some(_) => Verdict::Gone,
            None => holds(self.limits.alarms.clock_after, AlarmWhat::ClockUnset),
        };
        self.alarms.assess(Cause::Clock, verdict, now, &mut self.timers, effects);
    }

    /// The disk was measured.
    pub(super) fn measured(&mut self, room: Room, now: Now, effects: &mut Vec<Effect>) {
        self.due.disk = Some(room);
        self.judge_disk(now, effects);
    }

    pub(super) fn judge_disk(&mut self, now: Now, effects: &mut Vec<Effect>) {
        let Some(Room { free, .. }) = self.due.disk else { return };
        let limit = u64::from(self.limits.alarms.disk_low_mib) * MIB;
        let verdict = if free < limit {
            let priority = if free < limit / 10 { Priority::High } else { Priority::Medium };
            let free_mib = u32::try_from(free / MIB).unwrap_or(u32::MAX);
            Verdict::Holds { delay: 0, priority, what: AlarmWhat::DiskNearlyFull { free_mib } }
        } else if free >= limit / 100 * DISK_DEADBAND {
            Verdict::Gone
        } else {
            return;
        };
        self.alarms.assess(Cause::Disk, verdict, now, &mut self.timers, effects);
    }
}
