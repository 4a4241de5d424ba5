//! A week of a made-up barn with its people: staff who come and go, lessons, a broker that is cut off, sensors that break. What
//! the barn tells whom is written down beside what was true, and counted.
//!
//! People react as people do: who gets a message takes it after some minutes, most times. They change nothing in the world,
//! which is what it is; only the climbing ends by it.

mod people;
mod score;

use std::collections::BTreeMap;
use std::sync::Arc;

use bellmare_barn::alarm::record::Record as Row;
use bellmare_barn::barn::Barn;
use bellmare_barn::board::Priority;
use bellmare_barn::effect::Effect;
use bellmare_barn::id::PersonId;
use bellmare_barn::input::{
    Action, Input, Line, Mark, Measured, Reading, Said, Sensor, Sent, Step, TakenByLink, Touch,
};
use bellmare_barn::limits::Limits;
use bellmare_barn::tell::message::{About, Message, MessageId, Outcome, To};
use bellmare_barn::time::Now;
use bellmare_barn::units::{Celsius, Millimetres, Percent, RelativeHumidity};

pub use self::score::{Counts, score};
use crate::dice::Dice;
use crate::water_score::feed;
use crate::water_world::{Message as Word, Record, Says, World};

/// What was true besides what befell the stalls.
#[derive(Clone, Default, Debug)]
pub struct Truth {
    /// When no sensor could be heard, in seconds from when to when.
    pub cuts: Vec<(f64, f64)>,
    /// When horses of a lesson were not ready in time: about when, in seconds.
    pub late: Vec<f64>,
    /// When a lesson was due and nobody there.
    pub unattended: Vec<f64>,
}

/// A week as it was told.
#[derive(Debug)]
pub struct Week {
    /// What was true in each stall.
    pub stalls: Vec<Record>,
    /// And besides.
    pub truth: Truth,
    /// All messages.
    pub messages: Vec<Message>,
    /// The history of alarms.
    pub rows: BTreeMap<u64, Row>,
    /// The priority with which each of them was raised.
    pub raised_as: BTreeMap<u64, Priority>,
    /// How many days.
    pub days: u32,
    /// The limits that held.
    pub limits: Limits,
}

/// Something that happens.
#[derive(Clone, Debug)]
enum Deed {
    Hears(usize, Word),
    Air,
    SignIn(&'static str, bool),
    Line(Line),
    Marks(String, usize, Step, Mark),
    Takes(Vec<u64>, PersonId),
    Accepted(MessageId),
}

/// Lets a week pass. `cuts`: how often the broker is cut off.
pub fn week(world: &World, seed: u64, cuts: u32) -> Week {
    let limits = people::limits();
    let mut run = Run::begin(world, limits.clone(), Dice::new(seed ^ 0x5eed));
    let lives: Vec<_> = world.stalls.iter().map(|stall| world.live(stall)).collect();
    for (n, (messages, _)) in lives.iter().enumerate() {
        for message in messages {
            run.will(message.arrives, Deed::Hears(n, *message));
        }
    }
    for minute in 0..world.days * 144 {
        run.will(f64::from(minute) * 600.0, Deed::Air);
    }
    let mut truth = Truth::default();
    run.people_come_and_go(world.days, &mut truth);
    run.broker_is_cut(world.days, cuts, &mut truth);
    while let Some(((millis, _), deed)) = run.ahead.pop_first() {
        run.happens(millis as f64 / 1000.0, deed);
    }
    let end = f64::from(world.days) * 86_400.0;
    run.step(end, Input::Tick);
    let stalls = lives.into_iter().map(|(_, record)| record).collect();
    Week { stalls, truth, messages: run.messages, rows: run.rows, raised_as: run.raised_as, days: world.days, limits }
}

struct Run<'a> {
    world: &'a World,
    barn: Barn,
    dice: Dice,
    /// What is still to happen, by milliseconds and in the order in which it was thought of.
    ahead: BTreeMap<(u64, u64), Deed>,
    count: u64,
    cut_off: bool,
    messages: Vec<Message>,
    rows: BTreeMap<u64, Row>,
    raised_as: BTreeMap<u64, Priority>,
}

impl<'a> Run<'a> {
    fn begin(world: &'a World, limits: Limits, dice: Dice) -> Self {
        let mut run = Self {
            world,
            barn: Barn::new(),
            dice,
            ahead: BTreeMap::new(),
            count: 0,
            cut_off: false,
            messages: Vec::new(),
            rows: BTreeMap::new(),
            raised_as: BTreeMap::new(),
        };
        let mut book = feed::book(world);
        people::write(&mut book);
        for input in
            [Input::Started, Input::Limits(Arc::new(limits)), Input::Book(Arc::new(book)), Input::Broker(Line::Up)]
        {
            run.step(0.0, input);
        }
        run
    }

    fn will(&mut self, seconds: f64, deed: Deed) {
        self.count += 1;
        let end = f64::from(self.world.days) * 86_400.0;
        if (0.0..end).contains(&seconds) {
            self.ahead.insert(((seconds * 1000.0) as u64, self.count), deed);
        }
    }

    fn happens(&mut self, now: f64, deed: Deed) {
        match deed {
            Deed::Hears(_, _) | Deed::Air if self.cut_off => {}
            Deed::Hears(stall, message) => {
                let measured = match message.says {
                    Says::Level(millimetres) => Measured::Level(Millimetres(millimetres)),
                    Says::Battery(percent) => Measured::Battery(Percent(percent)),
                };
                let own_time = message.own_time.map(|time| feed::midnight().plus((time * 1000.0) as i64));
                let sensor = feed::sensor(stall, message.bucket);
                self.step(now, Input::Reading(Reading { sensor, measured, own_time }));
            }
            Deed::Air => {
                let celsius = self.world.air.celsius(now);
                for measured in [Measured::Temperature(Celsius(celsius)), Measured::Humidity(RelativeHumidity(60.0))] {
                    let sensor = Sensor::Climate("aisle".into());
                    self.step(now, Input::Reading(Reading { sensor, measured, own_time: None }));
                }
            }
            Deed::SignIn(person, here) => {
                let action = if here { Action::SignIn(person.into()) } else { Action::SignOut(person.into()) };
                self.touch(now, action);
            }
            Deed::Line(line) => {
                self.cut_off = line != Line::Up;
                self.step(now, Input::Broker(line));
            }
            Deed::Marks(ride, horse, step, mark) => {
                let said = Said { ride: ride.as_str().into(), horse: feed::horse_name(horse), step, mark, by: None };
                self.touch(now, Action::Work(said));
            }
            Deed::Takes(alarms, by) => {
                let link = format!("link {}", self.count);
                self.count += 1;
                self.step(now, Input::TakenByLink(TakenByLink { link: link.as_str().into(), alarms, by }));
            }
            Deed::Accepted(message) => self.step(now, Input::Sent(Sent { message, outcome: Outcome::Accepted })),
        }
    }

    fn touch(&mut self, now: f64, action: Action) {
        self.count += 1;
        let id = format!("t{}", self.count);
        let touch = Touch { id: id.as_str().into(), kiosk: "aisle".into(), held_ms: 0, by: None, staff: None, action };
        self.step(now, Input::Touch(touch));
    }

    fn step(&mut self, now: f64, input: Input) {
        for effect in self.barn.step(feed::at(now), input) {
            match effect {
                Effect::Tell(message) => {
                    self.reacts(&message);
                    self.messages.push(*message);
                }
                Effect::Keep(row) => {
                    self.raised_as.entry(row.alarm.id).or_insert(row.alarm.priority);
                    self.rows.insert(row.alarm.id, *row);
                }
                _ => {}
            }
        }
    }

    /// Who gets a message that asks for something takes it after a while, most times.
    fn reacts(&mut self, message: &Message) {
        let To::Person(person) = &message.to else { return };
        let made = seconds(message.made);
        self.will(made + 2.0, Deed::Accepted(message.id));
        if matches!(message.about, About::Taken | About::Ended | About::Digest(_) | About::Test) {
            return;
        }
        let (share, minutes) = match message.priority {
            Priority::High => (0.9, 1.0..4.5),
            Priority::Medium | Priority::Low => (0.8, 2.0..14.0),
        };
        if self.dice.happens(share) {
            let alarms = message.alarms.iter().filter(|told| !told.over).map(|told| told.alarm.id).collect();
            let after = self.dice.within(minutes) * 60.0;
            self.will(made + after, Deed::Takes(alarms, person.clone()));
        }
    }
}

/// Seconds since the first midnight.
pub(crate) fn seconds(now: Now) -> f64 {
    (now.mono.0 as f64 - 1_000_000.0) / 1000.0
}
