//! The barn and its water: where a reading goes, what it says of a horse, and what somebody must be told.
//!
//! Every reading may change how much there is; every ten minutes the horses are looked at: how long each has stood in its
//! stall without drinking, what it drank in a day, whether its water may have frozen.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::Barn;
use super::view::tenth;
use crate::alarm::{Cause, Verdict};
use crate::board::{AlarmWhat, HeatBand, Priority, WaterState};
use crate::book::{Horse, Lesson, Ride, WaterPlace};
use crate::effect::Effect;
use crate::id::{HorseId, StallId};
use crate::input::{Sensor, Step};
use crate::limits::WaterLimits;
use crate::time::{Mono, Now, Today, WallClock};
use crate::timers::Timer;
use crate::units::{Celsius, Litres, Millimetres};
use crate::water::bucket::{Fault, Flow, How};
use crate::water::guide;
use crate::water::intake::{Intake, TWO_DRINKS};
use crate::water::supply::Supply;

/// Horses are looked at so often, in milliseconds.
const LOOK_MS: u64 = 600_000;
/// Litres over its habit that are much for any horse, however little it has drunk of late.
const MUCH_MORE: f64 = 15.0;
/// A sensor that may miss a sip for longer than this is slow, in minutes,
const SLOW_MIN: u32 = 20;
/// and sees at least this share of what is drunk in a day.
const SEEN_AT_LEAST: f64 = 0.7;
/// Over this it thaws.
const THAWS: Celsius = Celsius(1.0);
/// A fault of a sensor, or a leak, must last so long before it is told, in milliseconds: straw falls off again.
const FAULT_ALARM_AFTER_MS: u64 = 600_000;

/// What the barn knows of its water.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub(crate) struct Waters {
    #[serde(with = "crate::pairs")]
    pub(super) places: BTreeMap<WaterPlace, Supply>,
    /// Where each sensor's vessel stands.
    #[serde(with = "crate::pairs")]
    stands: BTreeMap<Sensor, WaterPlace>,
    pub(super) horses: BTreeMap<HorseId, Intake>,
    /// Which horse stands where.
    drinkers: BTreeMap<StallId, HorseId>,
    /// For how many minutes it has frozen.
    frost_min: u32,
}

impl Waters {
    /// The water in which this sensor hangs.
    pub(super) fn of(&self, sensor: &Sensor) -> Option<&Supply> {
        self.places.get(self.stands.get(sensor)?)
    }

    /// Where a sensor's vessel stands.
    pub(super) fn place_of(&self, sensor: &Sensor) -> Option<&WaterPlace> {
        self.stands.get(sensor)
    }
}

impl Barn {
    /// The water of a place, and what has happened to it.
    pub fn water_of(&self, place: &WaterPlace) -> Option<&Supply> {
        self.waters.places.get(place)
    }

    /// What a horse drinks.
    pub fn intake_of(&self, horse: &HorseId) -> Option<&Intake> {
        self.waters.horses.get(horse)
    }

    /// The horse that stands there, as [`Book::horse_in`](crate::book::Book::horse_in) finds it by looking at every horse.
    pub(super) fn horse_at(&self, stall: &StallId) -> Option<&Horse> {
        self.book.horses.get(self.waters.drinkers.get(stall)?)
    }

    /// The book was opened, or there are other limits: vessels come and go, what is known of those that stay is kept and
    /// judged anew.
    pub(super) fn place_vessels(&mut self, now: Now) {
        let waters = &mut self.waters;
        waters.stands = self.book.vessels().map(|(sensor, place, _)| (sensor, place)).collect();
        waters.places.retain(|place, _| waters.stands.values().any(|at| at == place));
        for place in waters.stands.values() {
            let vessels = self.book.vessels().filter(|(_, at, _)| at == place);
            let vessels: Vec<_> = vessels.map(|(sensor, _, vessel)| (sensor, vessel.clone())).collect();
            waters.places.entry(place.clone()).or_default().with(vessels, now.mono, &self.limits.water);
        }
        waters.horses.retain(|horse, _| self.book.horses.contains_key(horse));
        // Should a book have two in one stall, it is the first.
        let horses = self.book.horses.values().rev();
        waters.drinkers = horses.map(|horse| (horse.stall.clone(), horse.id.clone())).collect();
        self.look_at_water_again(now);
    }

    /// Takes a level. Says whether a screen would show a difference.
    pub(super) fn level(
        &mut self,
        sensor: &Sensor,
        level: Millimetres,
        at: Mono,
        now: Now,
        effects: &mut Vec<Effect>,
    ) -> bool {
        let gap = self.sensors.get(sensor).and_then(crate::sensor::Heard::cadence);
        let waters = &mut self.waters;
        let Some(place) = waters.stands.get(sensor).cloned() else { return false };
        let Some(supply) = waters.places.get_mut(&place) else { return false };
        let before = shown(supply);
        let due = |supply: &Supply| supply.buckets().get(sensor).and_then(|bucket| bucket.deadline(gap));
        let due_before = due(supply);
        let flows = supply.take(sensor, level, at, gap, &self.limits.water);
        let due = due(supply);
        let changed = shown(supply) != before;
        if due != due_before {
            self.settles_at(sensor, due, now.mono);
        }
        match flows {
            Ok(flows) => self.flowed(&place, &flows, now, effects),
            Err(why) => self.refuse(sensor, why.to_string(), effects),
        }
        if changed {
            self.judge_water(&place, now, effects);
        }
        changed
    }

    /// A change that nothing contradicted counts.
    pub(super) fn settle(&mut self, sensor: &Sensor, now: Now, effects: &mut Vec<Effect>) {
        let gap = self.sensors.get(sensor).and_then(crate::sensor::Heard::cadence);
        let Some(place) = self.waters.stands.get(sensor).cloned() else { return };
        let Some(supply) = self.waters.places.get_mut(&place) else { return };
        let flows = supply.wait(sensor, now.mono, gap, &self.limits.water);
        // A sensor that was silent before its last word is a slower one since: what it said counts later, and counts.
        let due = self.waters.places.get(&place).and_then(|supply| supply.buckets().get(sensor)?.deadline(gap));
        self.settles_at(sensor, due, now.mono);
        self.flowed(&place, &flows, now, effects);
        self.judge_water(&place, now, effects);
        effects.push(Effect::Redraw);
    }

    fn settles_at(&mut self, sensor: &Sensor, due: Option<Mono>, now: Mono) {
        let timer = Timer::Settle(sensor.clone());
        match due {
            Some(due) => self.timers.arm(timer, due.max(now)),
            None => self.timers.disarm(&timer),
        }
    }

    /// Ten minutes have passed.
    pub(super) fn look_at_water(&mut self, now: Now, effects: &mut Vec<Effect>) {
        let today = Today::of(self.limits.zone, now);
        self.waters.frost_min = match self.coldest(now.mono) {
            Some(air) if air.get() <= self.limits.water.ice_below.get() => {
                self.waters.frost_min + (LOOK_MS / 60_000) as u32
            }
            // A bucket thaws as slowly as it froze.
            Some(air) if air.get() <= THAWS.get() => self.waters.frost_min,
            _ => 0,
        };
        let stalls: Vec<StallId> = self.book.horses.values().map(|horse| horse.stall.clone()).collect();
        if let Some(today) = &today {
            let (date, hour) = (today.day().date(), hour_of(today));
            let rides = self.book.rides_on(date);
            for horse in self.book.horses.values() {
                let place = WaterPlace::Stall(horse.stall.clone());
                if self.waters.places.contains_key(&place) && self.is_known(&place, now.mono) {
                    let here = self.is_in_stall(horse, &rides, today);
                    let intake = self.waters.horses.entry(horse.id.clone()).or_default();
                    let minutes = (LOOK_MS / 60_000) as u16;
                    intake.passed(date, hour, minutes, here);
                    if self.waters.frost_min >= self.limits.water.ice_after.0 {
                        let ice = may_be_ice(intake, today, self.waters.frost_min, &self.limits.water);
                        intake.froze(date, minutes, ice);
                    }
                }
            }
        }
        for stall in stalls {
            self.judge_drinking(&stall, now, effects);
        }
        let places: Vec<WaterPlace> = self.waters.places.keys().cloned().collect();
        for place in places {
            self.judge_water(&place, now, effects);
        }
        effects.push(Effect::Redraw);
        self.look_at_water_again(now);
    }

    fn look_at_water_again(&mut self, now: Now) {
        // At whole tens of minutes of running time, so that a new book does not put the look off.
        self.timers.arm(Timer::Water, Mono((now.mono.0 / LOOK_MS + 1) * LOOK_MS));
    }

    /// Litres came and went: what a horse drank is written down.
    fn flowed(&mut self, place: &WaterPlace, flows: &[Flow], now: Now, effects: &mut Vec<Effect>) {
        let WaterPlace::Stall(stall) = place else { return };
        let Some(horse) = self.waters.drinkers.get(stall) else { return };
        let mut drank = false;
        for flow in flows {
            match flow.how {
                How::Drank | How::Sipped | How::Unseen => {}
                How::Refilled => {
                    let intake = self.waters.horses.entry(horse.clone()).or_default();
                    intake.filled(self.limits.water.not_drinking_after.0);
                    continue;
                }
                How::Spilled | How::Leaked | How::NotRefilled => continue,
            }
            for (at, litres) in self.by_days(flow, now) {
                let then = Now { mono: at, wall: self.wall_before(at, now) };
                let Some(today) = Today::of(self.limits.zone, then) else { continue };
                let intake = self.waters.horses.entry(horse.clone()).or_default();
                drank |= intake.drank(today.day().date(), hour_of(&today), litres);
            }
        }
        if drank {
            self.judge_drinking(&stall.clone(), now, effects);
        }
    }

    /// What was drunk counts where it began, midway between the earliest and the latest that it can have. Where midnight lies
    /// between them each day has its part: nobody knows on which it was.
    fn by_days(&self, flow: &Flow, now: Now) -> Vec<(Mono, f64)> {
        let ((earliest, latest), litres) = (flow.began, flow.litres.get());
        let wall = self.wall_before(latest, now);
        let midnight = Today::of(self.limits.zone, Now { mono: latest, wall }).map(|today| today.mono(0));
        match midnight {
            Some(midnight) if earliest < midnight && midnight < latest => {
                let before = midnight.since(earliest) as f64 / latest.since(earliest) as f64;
                vec![(earliest, litres * before), (latest, litres * (1.0 - before))]
            }
            _ => vec![(earliest.plus(latest.since(earliest) / 2), litres)],
        }
    }

    /// The wall clock at a time that is past.
    fn wall_before(&self, at: Mono, now: Now) -> WallClock {
        match now.wall {
            WallClock::Set(wall) => WallClock::Set(wall.plus(-(now.mono.since(at) as i64))),
            WallClock::Unset => WallClock::Unset,
        }
    }

    /// Whether what is known of a place's water says something about now: every sensor of it speaks and can be believed.
    pub(super) fn is_known(&self, place: &WaterPlace, now: Mono) -> bool {
        let Some(supply) = self.waters.places.get(place) else { return false };
        let speaks =
            |sensor: &Sensor| self.sensors.get(sensor).is_some_and(|heard| !heard.is_silent(&self.limits.sensors, now));
        supply.content().is_some() && supply.fault().is_none() && supply.buckets().keys().all(speaks)
    }

    /// Whether a horse stands in its stall, as far as book and touches say: not while it is away, nor about a ride. Where
    /// somebody said that it was led out or brought back, that counts; else the lesson's time does. `rides` are those of today.
    fn is_in_stall(&self, horse: &Horse, rides: &[(&Ride, &Lesson)], today: &Today) -> bool {
        let (date, time) = (today.day().date(), today.day().time(today.now()));
        let away = |away: &crate::book::Away| {
            away.horse == horse.id && away.days.include(date) && (away.from..away.to).contains(&time)
        };
        if self.book.away.iter().any(away) {
            return false;
        }
        let live = self.live(today);
        if live.scratched.contains(&horse.id) {
            return true;
        }
        let (lead, back) = (self.limits.lessons.ready_lead.0, self.limits.plan.walk_back.0);
        !rides.iter().filter(|(ride, _)| ride.horse == horse.id).any(|(ride, lesson)| {
            let said = |step| live.work.stage(&ride.id, step).is_some_and(|stage| stage.done.is_some());
            if said(Step::LeadOut) || said(Step::BringBack) {
                return !said(Step::BringBack);
            }
            let mount = i64::from(lesson.start.minutes());
            let minute = i64::from(time.minutes());
            (mount - i64::from(lead)..mount + i64::from(lesson.minutes.0 + back)).contains(&minute)
        })
    }

    /// What there is to drink, and whether its sensors can be believed.
    pub(super) fn judge_water(&mut self, place: &WaterPlace, now: Now, effects: &mut Vec<Effect>) {
        let said_filled = self.is_said_filled(place, now.mono);
        let Some(supply) = self.waters.places.get(place) else { return };
        let limits = &self.limits.water;
        let mut said = Vec::new();
        if let Some(content) = supply.content() {
            let waited = now.mono.since(content.since);
            let hot = self.worst(now.mono).is_some_and(|(_, heat)| heat.band >= HeatBand::Critical);
            let presses = hot || waited >= limits.empty_presses_after.as_millis();
            let empty = if presses { Priority::High } else { Priority::Medium };
            for (state, cause, after, priority) in [
                (WaterState::Empty, Cause::Empty(place.clone()), limits.empty_alarm_after, empty),
                (WaterState::Low, Cause::Low(place.clone()), limits.low_alarm_after, Priority::Low),
            ] {
                let verdict = match self.low_water(place, content.state) {
                    Some(what) if content.state == state && !said_filled => {
                        Verdict::Holds { delay: after.as_millis().saturating_sub(waited), priority, what }
                    }
                    _ => Verdict::Gone,
                };
                said.push((cause, verdict));
            }
        }
        for (sensor, bucket) in supply.buckets() {
            let verdict = |what: Option<(AlarmWhat, Mono)>| match what {
                Some((what, since)) => {
                    let delay = FAULT_ALARM_AFTER_MS.saturating_sub(now.mono.since(since));
                    Verdict::Holds { delay, priority: Priority::Medium, what }
                }
                None => Verdict::Gone,
            };
            let fault =
                bucket.fault().map(|(fault, since)| (AlarmWhat::SensorFaulty { sensor: sensor.clone(), fault }, since));
            said.push((Cause::Faulty(sensor.clone()), verdict(fault)));
            let leak = bucket.leak().map(|(litres, since)| {
                (AlarmWhat::Leak { sensor: sensor.clone(), litres_per_hour: tenth(litres.get()) }, since)
            });
            said.push((Cause::Leak(sensor.clone()), verdict(leak)));
        }
        for (cause, verdict) in said {
            self.alarms.assess(cause, verdict, now, &mut self.timers, effects);
        }
    }

    /// What is to be said of water in this state; nothing of enough.
    fn low_water(&self, place: &WaterPlace, state: WaterState) -> Option<AlarmWhat> {
        let horse = |stall| self.horse_at(stall).map(|horse| horse.name.clone());
        Some(match (place, state) {
            (_, WaterState::Enough) => return None,
            (WaterPlace::Stall(stall), WaterState::Empty) => {
                AlarmWhat::BucketEmpty { stall: stall.clone(), horse: horse(stall) }
            }
            (WaterPlace::Stall(stall), WaterState::Low) => {
                AlarmWhat::BucketLow { stall: stall.clone(), horse: horse(stall) }
            }
            (WaterPlace::Paddock(paddock), WaterState::Empty) => AlarmWhat::TroughEmpty { paddock: paddock.clone() },
            (WaterPlace::Paddock(paddock), WaterState::Low) => AlarmWhat::TroughLow { paddock: paddock.clone() },
        })
    }

    /// Whether a horse drinks as it should, as far as its water can say.
    fn judge_drinking(&mut self, stall: &StallId, now: Now, effects: &mut Vec<Effect>) {
        let Some(today) = Today::of(self.limits.zone, now) else { return };
        let Some(horse) = self.waters.drinkers.get(stall).and_then(|horse| self.book.horses.get(horse)) else { return };
        let (id, name) = (horse.id.clone(), horse.name.clone());
        let Some(intake) = self.waters.horses.get(&id) else { return };
        let limits = &self.limits.water;
        let date = today.day().date();
        let hold = |priority, what| Verdict::Holds { delay: 0, priority, what };

        // While nobody knows its habit, its pauses are taken to be as long as the limit.
        let usual = intake.longest_dry_min(date).unwrap_or(limits.not_drinking_after.0);
        let dry = intake.dry_min();
        // A horse that drinks seldom is no worse for it; but nobody's habit makes half a day fine.
        let most = limits.not_drinking_at_most.0.max(limits.not_drinking_after.0);
        let after = (usual + usual / 4).clamp(limits.not_drinking_after.0, most) + self.blind_min(stall);
        let frozen = may_be_ice(intake, &today, self.waters.frost_min, limits);
        // Where its water may be ice, that is what must be looked at.
        let not_drinking = if dry >= after && !frozen {
            let what = AlarmWhat::NotDrinking { stall: stall.clone(), horse: name.clone(), hours: dry / 60 };
            hold(Priority::Medium, what)
        } else {
            Verdict::Gone
        };
        let ice = if frozen {
            hold(Priority::Medium, AlarmWhat::Ice { stall: stall.clone(), horse: name.clone() })
        } else {
            Verdict::Gone
        };
        let amount = self.judge_amount(&today, stall, horse, intake);
        for (cause, verdict) in [
            (Cause::NotDrinking(id.clone()), not_drinking),
            (Cause::Ice(stall.clone()), ice),
            (Cause::Drinks(id), amount),
        ] {
            self.alarms.assess(cause, verdict, now, &mut self.timers, effects);
        }
    }

    /// For how many minutes a sip may go unseen: the water rests at the middle of nine readings, and half of these must be new.
    fn blind_min(&self, stall: &StallId) -> u32 {
        let Some(supply) = self.waters.places.get(&WaterPlace::Stall(stall.clone())) else { return 0 };
        let gaps = supply.buckets().keys().filter_map(|sensor| self.sensors.get(sensor)?.cadence());
        gaps.max().map_or(0, |gap| u32::try_from(6 * gap / 60_000).unwrap_or(u32::MAX).min(120))
    }

    /// The litres of a day and night beside the horse's habit, or beside the guide while no habit is known.
    fn judge_amount(&self, today: &Today, stall: &StallId, horse: &Horse, intake: &Intake) -> Verdict {
        let limits = &self.limits.water;
        let (date, hour) = (today.day().date(), hour_of(today));
        let Some(litres) = intake.last_24_h(date, hour) else { return Verdict::Gone };
        let litres = litres.get();
        let at = |usual: Litres| (tenth(litres), tenth(usual.get()));
        let little = |usual| {
            let (litres, usual) = at(usual);
            AlarmWhat::DrinksLittle { stall: stall.clone(), horse: horse.name.clone(), litres, usual }
        };
        let much = |usual| {
            let (litres, usual) = at(usual);
            AlarmWhat::DrinksMuch { stall: stall.clone(), horse: horse.name.clone(), litres, usual }
        };
        let hold =
            |what| Verdict::Holds { delay: limits.amount_alarm_after.as_millis(), priority: Priority::Medium, what };
        let share = |percent: crate::units::Percent, of: f64| of * percent.get() / 100.0;
        // Who could not drink for ice has drunk little, which is said of the ice.
        let could = !intake.could_not_drink(date);
        // Of a slow sensor what is drunk about a refill goes unseen.
        let seen = if self.blind_min(stall) > SLOW_MIN { SEEN_AT_LEAST } else { 1.0 };
        match intake.habit(date) {
            Some(habit) => {
                let (usual, spread) = (habit.litres.get(), habit.spread.get());
                if could && litres < seen * share(limits.drinks_little, usual) && litres < usual - 3.0 * spread {
                    hold(little(habit.litres))
                } else if litres > share(limits.drinks_much, usual) && litres > usual + (3.0 * spread).max(MUCH_MORE) {
                    hold(much(habit.litres))
                } else {
                    Verdict::Gone
                }
            }
            None => {
                // The least that the books give, whatever the weather: a horse at grass drinks less, and is not in its stall.
                let stays = !self.book.away.iter().any(|away| away.horse == horse.id && away.days.include(date));
                let guide = horse.weight.map(|weight| guide::litres_a_day(weight, Celsius(0.0)));
                match guide.filter(|guide| stays && could && litres < seen * share(limits.drinks_little, guide.get())) {
                    Some(guide) => hold(little(guide)),
                    None => Verdict::Gone,
                }
            }
        }
    }
}

/// Whether water that a horse stands at may be ice: it has frozen for long, and the horse would have drunk by its own days
/// and has not. Who drinks shows that it is none.
fn may_be_ice(intake: &Intake, today: &Today, frost_min: u32, limits: &WaterLimits) -> bool {
    let (long, dry) = (limits.ice_after.0, intake.dry_min());
    let missed = intake.missed(today.day().date(), today.day().time(today.now()).minutes());
    frost_min >= long && dry >= long && missed.map_or(dry >= limits.not_drinking_after.0, |litres| litres >= TWO_DRINKS)
}

type Shown = (Option<(f64, WaterState)>, Option<Fault>, bool);

/// What a screen shows of a place's water, coarse enough to be worth drawing.
fn shown(supply: &Supply) -> Shown {
    let content = supply.content().map(|content| (content.percent.get().round(), content.state));
    let leaks = supply.buckets().values().any(|bucket| bucket.leak().is_some());
    (content, supply.fault().map(|(fault, _)| fault), leaks)
}

/// The hour of the day, 0 to 23.
fn hour_of(today: &Today) -> usize {
    usize::from(today.day().time(today.now()).minutes() / 60)
}
