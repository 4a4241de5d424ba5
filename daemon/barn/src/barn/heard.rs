//! What sensors say of themselves and of what they watch, their silence, and the lines on which they are heard.

use serde::{Deserialize, Serialize};

use super::Barn;
use crate::alarm::{Cause, Verdict};
use crate::board::{AlarmWhat, Priority};
use crate::effect::Effect;
use crate::input::{Line, Measured, Presence, Reading, Sensor};
use crate::time::{Mono, Now};
use crate::timers::Timer;
use crate::units::Percent;

/// A battery that was low is not so again before it has gained this much: a warm afternoon lifts a dying one.
const BATTERY_DEADBAND: f64 = 10.0;
/// A line that is down for less than this is a reconnect and nobody's business.
const LINE_ALARM_AFTER_MS: u64 = 10_000;
/// What a sensor may say of air. Beyond it, the sensor is broken and not the weather.
const AIR_C: std::ops::RangeInclusive<f64> = -60.0..=80.0;

/// A line and since when it is as it is.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
pub(crate) enum LineState {
    #[default]
    Starting,
    Up(Mono),
    Down(Mono, String),
}

impl Barn {
    pub(super) fn read(&mut self, reading: Reading, now: Now, effects: &mut Vec<Effect>) {
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

    pub(super) fn presence(&mut self, presence: Presence, now: Now, effects: &mut Vec<Effect>) {
        let Presence { sensor, online } = presence;
        if !matches!(sensor, Sensor::Climate(_)) && self.waters.of(&sensor).is_none() {
            return self.refuse(&sensor, no_vessel(&sensor), effects);
        }
        self.sensors.entry(sensor.clone()).or_default().announce(online, now.mono);
        self.judge_silence(&sensor, now, effects);
        effects.push(Effect::Redraw);
    }

    pub(super) fn judge_silence(&mut self, sensor: &Sensor, now: Now, effects: &mut Vec<Effect>) {
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
        let stands = self.alarms.stands(&Cause::ManySilent);
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
    pub(super) fn alarm_off(&mut self, cause: &Cause, now: Now, effects: &mut Vec<Effect>) {
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

    pub(super) fn broker_line(&mut self, line: Line, now: Now, effects: &mut Vec<Effect>) {
        let holds = matches!(line, Line::Down(_));
        self.broker.turn(line, now.mono);
        self.line_alarm(Cause::Broker, AlarmWhat::BrokerDown, holds, now, effects);
        if !holds {
            // Everyone's patience begins anew.
            self.alarms.forget_hidden_silences();
            self.arm_silences(now);
        }
    }

    pub(super) fn line_alarm(
        &mut self,
        cause: Cause,
        what: AlarmWhat,
        holds: bool,
        now: Now,
        effects: &mut Vec<Effect>,
    ) {
        let delay = if cause == Cause::Broker { LINE_ALARM_AFTER_MS } else { 0 };
        let verdict = if holds { Verdict::Holds { delay, priority: Priority::High, what } } else { Verdict::Gone };
        self.alarms.assess(cause, verdict, now, &mut self.timers, effects);
        effects.push(Effect::Redraw);
    }

    pub(super) fn arm_silences(&mut self, now: Now) {
        let LineState::Up(line_up) = self.broker else { return };
        for (sensor, heard) in &self.sensors {
            if let Some(from) = heard.silent_from(&self.limits.sensors, line_up) {
                self.timers.arm(Timer::Silence(sensor.clone()), from.max(now.mono));
            }
        }
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
    pub(super) fn turn(&mut self, line: Line, now: Mono) {
        *self = match (line, &*self) {
            (Line::Up, LineState::Up(since)) => LineState::Up(*since),
            (Line::Up, _) => LineState::Up(now),
            (Line::Down(why), LineState::Down(since, _)) => LineState::Down(*since, why),
            (Line::Down(why), _) => LineState::Down(now, why),
        };
    }
}
