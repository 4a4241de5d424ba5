//! The barn: joins what each concern knows. Only this file knows them all.
//!
//! [`Barn::step`] is the only way its state changes. It can not fail: what can not be right is refused, counted and shown.
//! Timers that are due fire first, each at the time it was armed for.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::alarm::record::Record;
use crate::alarm::{Alarms, Cause};
use crate::board::{AlarmWhat, Board, SensorView};
use crate::book::Book;
use crate::effect::Effect;
use crate::input::{ClockSource, Input, Line, Sensor};
use crate::limits::Limits;
use crate::pins::Pins;
use crate::sensor::Heard;
use crate::shift::Shift;
use crate::tell::Teller;
use crate::time::{Mono, Now, Wall, WallClock};
use crate::timers::{Timer, Timers};
use crate::touches::Touches;
use crate::work::Work;

mod air;
mod aisle;
mod aisle_view;
mod care;
mod day_heat;
mod day_view;
mod due;
mod filled;
mod heard;
mod in_force;
mod instead;
mod plans;
mod staff;
mod told;
mod touched;
mod view;
mod water_view;
mod waters;

pub use staff::NoTry;

use heard::LineState;

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
