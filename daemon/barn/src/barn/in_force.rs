//! The book, the limits and the day in force: what changes for everybody when another counts.

use std::collections::BTreeSet;
use std::sync::Arc;

use super::Barn;
use crate::alarm::cause::OutOfService;
use crate::alarm::{Cause, Verdict};
use crate::book::{Book, WaterPlace};
use crate::effect::Effect;
use crate::input::Sensor;
use crate::time::{Now, WallClock};
use crate::timers::Timer;

impl Barn {
    pub(super) fn open_book(&mut self, book: Arc<Book>, now: Now, effects: &mut Vec<Effect>) {
        self.book = book;
        self.keep_instead();
        self.place_vessels(now);
        let waters = &self.waters;
        self.sensors.retain(|sensor, _| matches!(sensor, Sensor::Climate(_)) || waters.of(sensor).is_some());
        self.forget_horses();
        self.forget_pins();
        for cause in self.alarms.causes() {
            let subject_left = match &cause {
                Cause::Empty(place) | Cause::Low(place) => !self.waters.places.contains_key(place),
                Cause::Ice(stall) => self.book.horse_in(stall).is_none(),
                Cause::NotDrinking(horse)
                | Cause::Drinks(horse)
                | Cause::Vitals(horse)
                | Cause::Wrong(horse)
                | Cause::NoHorse(horse) => !self.book.horses.contains_key(horse),
                Cause::Silent(sensor) | Cause::Battery(sensor) | Cause::Faulty(sensor) | Cause::Leak(sensor) => {
                    !self.sensors.contains_key(sensor)
                }
                Cause::Heat(_) | Cause::PeopleHeat(_) | Cause::HeatAhead | Cause::ClimateDoubt | Cause::Frost => false,
                Cause::Late(lesson) | Cause::NobodyFor(lesson) => !self.book.lessons.contains_key(lesson),
                Cause::ManySilent | Cause::NobodyHere | Cause::Clock | Cause::Disk => false,
                Cause::Broker | Cause::Journal | Cause::Hay(_) => false,
            };
            if subject_left {
                self.alarms.assess(cause, Verdict::Gone, now, &mut self.timers, effects);
            }
        }
        self.open_aisle(now, effects);
        self.go_by_limits(now, effects);
        self.want_plan(now);
        effects.push(Effect::Redraw);
    }

    /// The hub has started, its clock was set, or other limits count.
    pub(super) fn look_at_the_day(&mut self, now: Now, effects: &mut Vec<Effect>) {
        self.judge_clock(now, effects);
        self.judge_disk(now, effects);
        self.arm_digest(now);
        self.tell(now, effects);
        self.timers.arm(Timer::Lessons, now.mono);
        self.want_plan(now);
    }

    /// What is out of service, by the limits and the book: a sensor takes along what only it can tell.
    pub(super) fn go_by_limits(&mut self, now: Now, effects: &mut Vec<Effect>) {
        let mut out = BTreeSet::new();
        for one in &self.limits.alarms.out_of_service {
            let OutOfService::Sensor(sensor) = one else { continue };
            out.extend([
                Cause::Silent(sensor.clone()),
                Cause::Battery(sensor.clone()),
                Cause::Faulty(sensor.clone()),
                Cause::Leak(sensor.clone()),
            ]);
            if let Some(place) = self.waters.place_of(sensor) {
                out.extend([Cause::Empty(place.clone()), Cause::Low(place.clone())]);
                if let WaterPlace::Stall(stall) = place {
                    out.insert(Cause::Ice(stall.clone()));
                    if let Some(horse) = self.book.horse_in(stall) {
                        out.extend([Cause::NotDrinking(horse.id.clone()), Cause::Drinks(horse.id.clone())]);
                    }
                }
            }
            if let Sensor::Climate(place) = sensor {
                out.extend([Cause::Heat(place.clone()), Cause::PeopleHeat(place.clone())]);
            }
        }
        self.alarms.go_by(&self.limits.alarms, out, now, &mut self.timers, effects);
    }

    pub(super) fn arm_day_end(&mut self, now: Now, effects: &mut Vec<Effect>) {
        effects.push(Effect::Redraw);
        let WallClock::Set(wall) = now.wall else {
            self.timers.disarm(&Timer::DayEnd);
            return;
        };
        let zone = self.limits.zone;
        let mut date = zone.date(wall);
        loop {
            let end = zone.instant(date, self.limits.shift.day_ends);
            if let Ok(ahead @ 1..) = u64::try_from(end.since(wall)) {
                self.timers.arm(Timer::DayEnd, now.mono.plus(ahead));
                return;
            }
            let Some(next) = date.succ_opt() else { return };
            date = next;
        }
    }
}
