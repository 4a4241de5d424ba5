//! The barn: joins what each concern knows. Only this file knows them all.
//!
//! [`Barn::step`] is the only way its state changes. It can not fail: what can not be right is refused, counted and shown.
//! Timers that are due fire first, each at the time it was armed for.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::alarm::cause::OutOfService;
use crate::alarm::record::Record;
use crate::alarm::{Alarms, Cause, Phase, Verdict};
use crate::board::{AlarmWhat, Board, Priority, SensorView};
use crate::book::{Book, WaterPlace};
use crate::effect::{Answer, Effect};
use crate::id::{BadgeId, KioskId, PersonId, ReaderId};
use crate::input::{Action, ClockSource, Input, Line, Measured, Presence, Reading, Said, Sensor, Tap, Touch};
use crate::limits::Limits;
use crate::pins::Pins;
use crate::refusal::{Because, Refusal};
use crate::sensor::Heard;
use crate::shift::{Shift, Tapped};
use crate::tell::Teller;
use crate::time::{Mono, Now, Wall, WallClock};
use crate::timers::{Timer, Timers};
use crate::touches::Touches;
use crate::units::Percent;
use crate::work::Work;

mod air;
mod aisle;
mod aisle_view;
mod care;
mod day_heat;
mod day_view;
mod due;
mod filled;
mod instead;
mod plans;
mod staff;
mod told;
mod view;
mod water_view;
mod waters;

pub use staff::NoTry;

/// A battery that was low is not so again before it has gained this much: a warm afternoon lifts a dying one.
const BATTERY_DEADBAND: f64 = 10.0;
/// A line that is down for less than this is a reconnect and nobody's business.
const LINE_ALARM_AFTER_MS: u64 = 10_000;
/// What a sensor may say of air. Beyond it, the sensor is broken and not the weather.
const AIR_C: std::ops::RangeInclusive<f64> = -60.0..=80.0;

/// The whole barn.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Barn {
    book: Arc<Book>,
    limits: Arc<Limits>,
    /// When the last input that is written down came: what time it is between two of them follows from it.
    last: Option<Now>,
    broker: LineState,
    journal: LineState,
    #[serde(with = "crate::pairs")]
    sensors: BTreeMap<Sensor, Heard>,
    waters: waters::Waters,
    air: air::Air,
    shift: Shift,
    work: Work,
    plans: plans::Plans,
    #[serde(default)]
    care: care::Care,
    #[serde(default)]
    aisle: aisle::Aisle,
    alarms: Alarms,
    #[serde(default)]
    teller: Teller,
    #[serde(default)]
    due: due::Due,
    touches: Touches,
    #[serde(default)]
    pins: Pins,
    #[serde(default)]
    clock_source: ClockSource,
    timers: Timers,
    refused: u64,
}

/// A line and since when it is as it is.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
pub(crate) enum LineState {
    #[default]
    Starting,
    Up(Mono),
    Down(Mono, String),
}

/// Who touched where, and when.
struct Toucher {
    kiosk: KioskId,
    by: Option<PersonId>,
    staff: Option<PersonId>,
    at: Mono,
}

impl Barn {
    /// An empty barn: no book, the proposed limits, nothing heard.
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes what happened; says what must be done about it.
    pub fn step(&mut self, now: Now, input: Input) -> Vec<Effect> {
        let mut effects = Vec::new();
        self.fire(now.mono, &mut effects);
        if input != Input::Tick {
            self.last = Some(now);
        }
        match input {
            Input::Tick => {}
            Input::Started => {
                self.broker = LineState::Starting;
                // A hub without its journal does not start.
                self.journal = LineState::Up(now.mono);
                self.arm_day_end(now, &mut effects);
                self.look_at_the_day(now, &mut effects);
            }
            Input::Clock => {
                self.arm_day_end(now, &mut effects);
                self.look_at_the_day(now, &mut effects);
            }
            Input::ClockSource(source) => {
                self.clock_source = source;
                self.arm_day_end(now, &mut effects);
            }
            Input::Pin(pin) => self.keep_pin(pin, &mut effects),
            Input::PinTried(tried) => self.pin_tried(&tried, now, &mut effects),
            Input::Plan(plan) => self.show_plan(&plan, now, &mut effects),
            Input::Book(book) => self.open_book(book, now, &mut effects),
            Input::Limits(limits) => {
                self.limits = limits;
                self.place_vessels(now);
                self.arm_day_end(now, &mut effects);
                self.arm_silences(now);
                self.go_by_limits(now, &mut effects);
                self.look_at_the_day(now, &mut effects);
            }
            Input::Reading(reading) => self.read(reading, now, &mut effects),
            Input::Presence(presence) => self.presence(presence, now, &mut effects),
            Input::Tap(tap) => self.tap(tap, now, &mut effects),
            Input::Touch(touch) => self.touch(touch, now, &mut effects),
            Input::Sent(sent) => self.sent(&sent, now, &mut effects),
            Input::TakenByLink(taken) => self.taken_by_link(taken, now, &mut effects),
            Input::Disk(room) => self.measured(room, now, &mut effects),
            Input::Broker(line) => self.broker_line(line, now, &mut effects),
            Input::Journal(line) => {
                let holds = matches!(line, Line::Down(_));
                self.journal.turn(line, now.mono);
                self.line_alarm(Cause::Journal, AlarmWhat::JournalDown, holds, now, &mut effects);
            }
        }
        self.tell_news(now, &mut effects);
        effects
    }

    /// When the barn wants to be stepped again even if nothing happens.
    pub fn next_deadline(&self) -> Option<Mono> {
        self.timers.next()
    }

    /// What a screen shows now.
    pub fn board(&self, now: Now) -> Board {
        view::board(self, now)
    }

    /// The book in force.
    pub fn book(&self) -> &Arc<Book> {
        &self.book
    }

    /// The limits in force.
    pub fn limits(&self) -> &Arc<Limits> {
        &self.limits
    }

    /// What became of the alarms that stand, and of those that ended lately.
    pub fn alarm_records(&self) -> impl Iterator<Item = &Record> {
        self.alarms.records()
    }

    /// Every sensor that has spoken or announced itself, for whoever looks after them.
    pub fn sensors(&self, now: Now) -> Vec<SensorView> {
        view::sensors(self, now)
    }

    /// True where no book was ever opened.
    pub fn has_no_book(&self) -> bool {
        *self.book == Book::default()
    }

    fn fire(&mut self, by: Mono, effects: &mut Vec<Effect>) {
        while let Some((at, timer)) = self.timers.take(by) {
            let then = Now { mono: at, wall: self.wall_at(at) };
            match timer {
                Timer::Silence(sensor) => self.judge_silence(&sensor, then, effects),
                Timer::Alarm(cause) => self.alarms.raise(&cause, then, &mut self.timers, effects),
                Timer::Heat(place) => self.judge_heat(&place, then, effects),
                Timer::Doubt => self.judge_doubt(then, effects),
                Timer::Forecast => self.look_ahead(then, effects),
                Timer::AlarmOff(cause) => self.alarm_off(&cause, then, effects),
                Timer::Steady(cause) => self.alarms.steady(&cause, effects),
                Timer::Unshelve(cause) => self.alarms.unshelve(&cause, &mut self.timers, effects),
                Timer::Forget(cause) => self.alarms.forget(&cause, effects),
                Timer::Tell => self.tell(then, effects),
                Timer::Digest => self.send_digest(then, effects),
                Timer::Lessons => self.look_at_lessons(then, effects),
                Timer::DayEnd => {
                    self.shift.end_day(at);
                    self.end_seen_cautions(then, effects);
                    self.end_aisle_day(then, effects);
                    effects.push(Effect::Redraw);
                    self.arm_day_end(then, effects);
                }
                Timer::UnknownTap => self.forget_unknown(at, effects),
                Timer::Aisle => self.aisle_passes(then, effects),
                Timer::Plan => {
                    self.order_plan(then, effects);
                    self.look_at_lessons(then, effects);
                }
                Timer::Settle(sensor) => self.settle(&sensor, then, effects),
                Timer::Water => self.look_at_water(then, effects),
            }
            self.tell_news(then, effects);
        }
    }

    /// The wall clock at a time, by the last input that was written down.
    fn wall_at(&self, at: Mono) -> WallClock {
        match self.last {
            Some(Now { mono, wall: WallClock::Set(wall) }) => WallClock::Set(wall.plus(at.0 as i64 - mono.0 as i64)),
            _ => WallClock::Unset,
        }
    }

    /// When something happened, by its own account if that can be believed and by its arrival if not.
    fn happened(&self, own_time: Option<Wall>, now: Now) -> Mono {
        let (Some(own), WallClock::Set(wall)) = (own_time, now.wall) else { return now.mono };
        if !self.believed(own, now) {
            return now.mono;
        }
        Mono(now.mono.0.saturating_sub(wall.since(own).max(0) as u64))
    }

    /// Whether a sensor's own time can be right.
    fn believed(&self, own: Wall, now: Now) -> bool {
        let Some(late) = now.wall.get().map(|wall| wall.since(own)) else { return false };
        let ahead = self.limits.sensors.own_time_ahead.as_millis() as i64;
        let behind = self.limits.sensors.own_time_behind.as_millis() as i64;
        (-ahead..=behind).contains(&late)
    }

    /// The time of a reading that a sensor kept for so long, by its own account, that it says nothing about now.
    fn long_past(&self, own_time: Option<Wall>, now: Now) -> Option<Wall> {
        let (own, wall) = (own_time?, now.wall.get()?);
        let past = wall.since(own) > self.limits.sensors.silent_at_most.as_millis() as i64;
        (past && self.believed(own, now)).then_some(own)
    }

    fn refuse(&mut self, from: impl std::fmt::Display, why: impl Into<String>, effects: &mut Vec<Effect>) {
        self.refused += 1;
        effects.push(Effect::Refuse { from: from.to_string(), why: why.into() });
    }
}

/// The book and time.
impl Barn {
    fn open_book(&mut self, book: Arc<Book>, now: Now, effects: &mut Vec<Effect>) {
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
                Cause::NotDrinking(horse) | Cause::Drinks(horse) | Cause::Vitals(horse) | Cause::Wrong(horse) => {
                    !self.book.horses.contains_key(horse)
                }
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
    fn look_at_the_day(&mut self, now: Now, effects: &mut Vec<Effect>) {
        self.judge_clock(now, effects);
        self.judge_disk(now, effects);
        self.arm_digest(now);
        self.tell(now, effects);
        self.timers.arm(Timer::Lessons, now.mono);
        self.want_plan(now);
    }

    /// What is out of service, by the limits and the book: a sensor takes along what only it can tell.
    fn go_by_limits(&mut self, now: Now, effects: &mut Vec<Effect>) {
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

    fn arm_day_end(&mut self, now: Now, effects: &mut Vec<Effect>) {
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

/// Sensors.
impl Barn {
    fn read(&mut self, reading: Reading, now: Now, effects: &mut Vec<Effect>) {
        let Reading { sensor, measured, own_time } = reading;
        let at = self.happened(own_time, now);
        if let Err(why) = self.fits(&sensor, measured) {
            return self.refuse(sensor, why, effects);
        }
        if let (Sensor::Climate(place), Some(own)) = (&sensor, self.long_past(own_time, now)) {
            // What the air was like is worth knowing; nobody is called for heat that is over.
            return self.record_air(place, measured, own);
        }
        let was_silent = self.sensors.get(&sensor).is_some_and(|heard| heard.is_silent(&self.limits.sensors, now.mono));
        let changed = match (&sensor, measured) {
            (_, Measured::Battery(left)) => {
                self.sensors.entry(sensor.clone()).or_default().battery_is(left);
                return self.judge_battery(&sensor, left, now, effects);
            }
            (_, Measured::Signal(strength)) => {
                return self.sensors.entry(sensor).or_default().signal_is(strength);
            }
            (Sensor::Water(_) | Sensor::Bucket(_), Measured::Level(level)) => {
                self.level(&sensor, level, at, now, effects)
            }
            (Sensor::Climate(place), measured) => {
                let own = own_time.filter(|own| self.believed(*own, now));
                self.read_air(place, measured, (at, own.or(now.wall.get())), now, effects)
            }
            (Sensor::Water(_) | Sensor::Bucket(_), _) => false,
        };
        let of_air = matches!(sensor, Sensor::Climate(_));
        let heard = self.sensors.entry(sensor.clone()).or_default();
        heard.hear(at, changed);
        // The timer is moved only where it would come too late: one that comes too early looks again and moves itself.
        let line_up = if let LineState::Up(since) = self.broker { since } else { now.mono };
        let silent_from = heard.silent_from(&self.limits.sensors, line_up);
        let silence = Timer::Silence(sensor);
        let in_time = self.timers.armed_at(&silence).is_some_and(|at| Some(at) <= silent_from);
        if was_silent || !in_time {
            let Timer::Silence(sensor) = silence else { return };
            self.judge_silence(&sensor, now, effects);
        }
        if of_air {
            self.judge_air(now, effects);
        }
        if changed || was_silent {
            effects.push(Effect::Redraw);
        }
    }

    /// Whether a sensor of this kind can say such a thing at all.
    fn fits(&self, sensor: &Sensor, measured: Measured) -> Result<(), String> {
        let within = |value: f64, range: std::ops::RangeInclusive<f64>, what: &str| {
            if range.contains(&value) {
                Ok(())
            } else {
                Err(format!("{what} {value}: allowed is {} to {}", range.start(), range.end()))
            }
        };
        match (sensor, measured) {
            (Sensor::Water(_) | Sensor::Bucket(_), _) if self.waters.of(sensor).is_none() => Err(no_vessel(sensor)),
            (_, Measured::Battery(left)) => within(left.get(), 0.0..=100.0, "battery %"),
            (_, Measured::Signal(strength)) => within(strength.get(), -200.0..=50.0, "signal dBm"),
            (Sensor::Water(_) | Sensor::Bucket(_), Measured::Level(level)) => {
                within(level.get(), -10_000.0..=10_000.0, "level mm")
            }
            (Sensor::Climate(_), Measured::Temperature(value)) => within(value.get(), AIR_C, "temperature °C"),
            (Sensor::Climate(_), Measured::Humidity(value)) => within(value.get(), 0.0..=100.0, "humidity %"),
            (Sensor::Water(_) | Sensor::Bucket(_), _) => {
                Err("a water sensor tells level, battery and signal".to_owned())
            }
            (Sensor::Climate(_), Measured::Level(_)) => {
                Err("a climate sensor tells temperature, humidity, battery and signal".to_owned())
            }
        }
    }

    fn presence(&mut self, presence: Presence, now: Now, effects: &mut Vec<Effect>) {
        let Presence { sensor, online } = presence;
        if !matches!(sensor, Sensor::Climate(_)) && self.waters.of(&sensor).is_none() {
            return self.refuse(&sensor, no_vessel(&sensor), effects);
        }
        self.sensors.entry(sensor.clone()).or_default().announce(online, now.mono);
        self.judge_silence(&sensor, now, effects);
        effects.push(Effect::Redraw);
    }

    fn judge_silence(&mut self, sensor: &Sensor, now: Now, effects: &mut Vec<Effect>) {
        // While no sensor can be heard, none is to blame; when the line is back, everyone's patience begins anew.
        let LineState::Up(line_up) = self.broker else { return };
        let Some(heard) = self.sensors.get(sensor) else { return };
        let Some(from) = heard.silent_from(&self.limits.sensors, line_up) else { return };
        let verdict = if now.mono >= from {
            effects.push(Effect::Redraw);
            let pressing_from = from.plus(self.limits.alarms.silent_pressing.as_millis());
            let priority = if now.mono >= pressing_from {
                Priority::Medium
            } else {
                self.timers.arm(Timer::Silence(sensor.clone()), pressing_from);
                Priority::Low
            };
            Verdict::Holds { delay: 0, priority, what: AlarmWhat::SensorSilent { sensor: sensor.clone() } }
        } else {
            self.timers.arm(Timer::Silence(sensor.clone()), from);
            Verdict::Gone
        };
        self.alarms.assess(Cause::Silent(sensor.clone()), verdict, now, &mut self.timers, effects);
        self.judge_many(now, effects);
    }

    /// Whether so many sensors are silent at once that it is a line or a radio, and none of them.
    fn judge_many(&mut self, now: Now, effects: &mut Vec<Effect>) {
        let many = self.limits.alarms.many_silent.max(2);
        let (lately, held) = self.alarms.silent_at_once(now.mono);
        let stands = matches!(
            self.alarms.phase(&Cause::ManySilent),
            Phase::Unacknowledged | Phase::Acknowledged | Phase::Shelved
        );
        let silent = if stands { held } else { lately };
        let verdict = if if stands { 2 * held >= many } else { lately >= many } {
            // Half of the barn, and most of its water goes unwatched.
            let half = 2 * silent as usize >= self.sensors.len();
            let priority = if half { Priority::High } else { Priority::Medium };
            Verdict::Holds { delay: 0, priority, what: AlarmWhat::ManySilent { sensors: silent } }
        } else if stands {
            Verdict::Gone
        } else {
            return;
        };
        self.alarms.assess(Cause::ManySilent, verdict, now, &mut self.timers, effects);
    }

    /// The cause of an alarm has been gone for long enough.
    fn alarm_off(&mut self, cause: &Cause, now: Now, effects: &mut Vec<Effect>) {
        self.alarms.off(cause, now, &mut self.timers, effects);
    }

    fn judge_battery(&mut self, sensor: &Sensor, left: Percent, now: Now, effects: &mut Vec<Effect>) {
        let low = self.limits.sensors.battery_low.get();
        let verdict = if left.get() <= low {
            let what = AlarmWhat::BatteryLow { sensor: sensor.clone() };
            Verdict::Holds { delay: 0, priority: Priority::Low, what }
        } else if left.get() > low + BATTERY_DEADBAND {
            Verdict::Gone
        } else {
            return;
        };
        self.alarms.assess(Cause::Battery(sensor.clone()), verdict, now, &mut self.timers, effects);
    }

    fn broker_line(&mut self, line: Line, now: Now, effects: &mut Vec<Effect>) {
        let holds = matches!(line, Line::Down(_));
        self.broker.turn(line, now.mono);
        self.line_alarm(Cause::Broker, AlarmWhat::BrokerDown, holds, now, effects);
        if !holds {
            // Everyone's patience begins anew.
            self.alarms.forget_hidden_silences();
            self.arm_silences(now);
        }
    }

    fn line_alarm(&mut self, cause: Cause, what: AlarmWhat, holds: bool, now: Now, effects: &mut Vec<Effect>) {
        let delay = if cause == Cause::Broker { LINE_ALARM_AFTER_MS } else { 0 };
        let verdict = if holds { Verdict::Holds { delay, priority: Priority::High, what } } else { Verdict::Gone };
        self.alarms.assess(cause, verdict, now, &mut self.timers, effects);
        effects.push(Effect::Redraw);
    }

    fn arm_silences(&mut self, now: Now) {
        let LineState::Up(line_up) = self.broker else { return };
        for (sensor, heard) in &self.sensors {
            if let Some(from) = heard.silent_from(&self.limits.sensors, line_up) {
                self.timers.arm(Timer::Silence(sensor.clone()), from.max(now.mono));
            }
        }
    }
}

/// People.
impl Barn {
    fn tap(&mut self, tap: Tap, now: Now, effects: &mut Vec<Effect>) {
        let Tap { reader, badge, own_time } = tap;
        let at = self.happened(own_time, now);
        if let Err(why) = self.badge(&reader, badge, at, now, effects) {
            self.refuse(format!("reader {reader}"), why.why, effects);
        }
    }

    /// A badge was held to a reader.
    fn badge(
        &mut self,
        reader: &ReaderId,
        badge: BadgeId,
        at: Mono,
        now: Now,
        effects: &mut Vec<Effect>,
    ) -> Result<(), Refusal> {
        let Some(person) = self.book.person_with(&badge).map(|person| person.id.clone()) else {
            self.shift.tap_unknown(badge, reader.clone(), now.mono);
            self.forget_unknown(now.mono, effects);
            return Ok(());
        };
        match self.shift.tap(&person, at, &self.limits.shift) {
            Tapped::Counts => {
                self.show_tap(reader, &person, at, now);
                self.want_plan(now);
                effects.push(Effect::Redraw);
                Ok(())
            }
            Tapped::Same => Ok(()),
            Tapped::Closed => Err(Because::DayClosed.says("a tap of a day that is already closed")),
        }
    }

    fn forget_unknown(&mut self, now: Mono, effects: &mut Vec<Effect>) {
        if let Some(next) = self.shift.forget_unknown(now) {
            self.timers.arm(Timer::UnknownTap, next);
        }
        effects.push(Effect::Redraw);
    }

    fn touch(&mut self, touch: Touch, now: Now, effects: &mut Vec<Effect>) {
        let Touch { id, kiosk, held_ms, by, staff, action } = touch;
        let answer = match self.touches.answered(&id) {
            Some(before) => before.clone(),
            None => {
                let held = held_ms.min(self.limits.sensors.own_time_behind.as_millis());
                let at = Mono(now.mono.0.saturating_sub(held));
                let who = Toucher { kiosk: kiosk.clone(), by, staff, at };
                let answer = match self.act(action, &who, now, effects) {
                    Ok(()) => {
                        effects.push(Effect::Redraw);
                        Answer::Done
                    }
                    Err(refusal) => {
                        self.refuse(format!("kiosk {kiosk}"), refusal.why.clone(), effects);
                        Answer::Refused(refusal)
                    }
                };
                self.touches.remember(id.clone(), answer.clone());
                answer
            }
        };
        effects.push(Effect::Answer { touch: id, answer });
    }

    fn act(&mut self, action: Action, who: &Toucher, now: Now, effects: &mut Vec<Effect>) -> Result<(), Refusal> {
        let at = who.at;
        for person in who.by.iter().chain(&who.staff) {
            self.known_person(person)?;
        }
        match action {
            Action::SignIn(person) => self.say(&person, true, at, now),
            Action::SignOut(person) => self.say(&person, false, at, now),
            Action::Acknowledge { alarm, by } => {
                self.known_person(&by)?;
                if self.alarms.acknowledge(alarm, &by, now, &mut self.timers, effects) {
                    Ok(())
                } else {
                    Err(Because::AlarmOver.says("that alarm is over"))
                }
            }
            Action::Work(said) => self.mark(Said { by: said.by.or_else(|| who.by.clone()), ..said }, at, now),
            Action::Scratch { horse, out, by } => self.scratch(&horse, out, who.staff.as_ref(), &by, now),
            Action::StandIn { ride, horse } => self.goes_instead(&ride, horse.as_ref(), who, now),
            Action::Vitals(vitals) => self.observe(vitals, at, now, effects),
            Action::Badge(badge) => self.badge(&ReaderId::new(who.kiosk.as_str()), badge, at, now, effects),
            Action::Filled { place, undo } => self.fill(place, undo, who, now, effects),
            Action::Cleaned { stall, undo } => self.clean(stall, undo, who, now),
            Action::Chore { chore, undo } => self.cross_off(&chore, undo, who, now, effects),
            Action::AskHay { horse, undo } => self.ask_hay(&horse, undo, who, now, effects),
            Action::AnswerHay { ask, allowed } => self.answer_hay(ask, allowed, who, now, effects),
            Action::Wrong { horse, seen, undo } => self.report(&horse, seen, undo, who, now, effects),
            Action::WrongOver { horse } => self.close_report(&horse, who, now, effects),
            Action::SetClock { date, time } => self.set_clock(date, time, who.staff.as_ref(), at, now, effects),
            Action::PutAside { .. } | Action::TakeUp { .. } => self.shelve(&action, who.staff.as_ref(), now, effects),
        }
    }

    fn say(&mut self, person: &PersonId, here: bool, at: Mono, now: Now) -> Result<(), Refusal> {
        self.known_person(person)?;
        match self.shift.say(person, here, at) {
            Tapped::Closed => Err(Because::DayClosed.says("the day of that touch is already closed")),
            Tapped::Counts | Tapped::Same => {
                self.want_plan(now);
                Ok(())
            }
        }
    }

    fn known_person(&self, person: &PersonId) -> Result<(), Refusal> {
        if self.book.people.contains_key(person) { Ok(()) } else { Err(Refusal::not_in_book("person", person)) }
    }
}

/// The book has no vessel for a sensor.
fn no_vessel(sensor: &Sensor) -> String {
    match sensor {
        Sensor::Water(stall) => format!("stall {stall} has no bucket in the book"),
        other => format!("the book has no vessel for the {other}"),
    }
}

impl LineState {
    fn turn(&mut self, line: Line, now: Mono) {
        *self = match (line, &*self) {
            (Line::Up, LineState::Up(since)) => LineState::Up(*since),
            (Line::Up, _) => LineState::Up(now),
            (Line::Down(why), LineState::Down(since, _)) => LineState::Down(*since, why),
            (Line::Down(why), _) => LineState::Down(now, why),
        };
    }
}
