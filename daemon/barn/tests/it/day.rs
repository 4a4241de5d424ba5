//! A small barn and a day in it, to be told as a dialogue: what happens, and what the barn says to it, whole.

use std::collections::BTreeMap;
use std::sync::Arc;

use bellmare_barn::alarm::record::Record;
use bellmare_barn::barn::Barn;
use bellmare_barn::board::{Board, SensorView};
use bellmare_barn::book::{
    Book, Days, Gauge, Horse, JobMinutes, Lesson, Person, Resting, Ride, Role, Shape, Side, Stall, Stirrups, Vessel,
    WorkLimits,
};
use bellmare_barn::effect::{Answer, Effect};
use bellmare_barn::input::{Action, Input, Line, Measured, NewPlan, Presence, Reading, Sensor, Tap, Touch};
use bellmare_barn::limits::Limits;
use bellmare_barn::plan::file::{DayFile, PlanFile};
use bellmare_barn::prep::calm::{Made, make};
use bellmare_barn::tell::message::{About, Message, To};
use bellmare_barn::tell::words::line;
use bellmare_barn::time::{Mono, Now, TimeOfDay, Wall, WallClock, Zone};
use bellmare_barn::units::{Celsius, Fahrenheit, Millimetres, Minutes, Percent, RelativeHumidity};
use chrono::NaiveDate;

pub(crate) const ZONE: Zone = Zone(chrono_tz::America::New_York);

pub(crate) fn thursday() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 6, 18).expect("a date")
}

/// A bucket of straight sides and 300 mm: 3 mm are one percent.
pub(crate) fn vessel() -> Vessel {
    let (across, height) = (Millimetres(280.0), Millimetres(300.0));
    Vessel {
        shape: Shape::Round { bottom: across, top: across, height },
        gauge: Gauge::Up { at_bottom: Millimetres(0.0) },
    }
}

/// Stalls 1 to 4 (4 has no bucket); Pepper in 3 and Juniper in 1; Ana and Lena with badges; Pepper goes at 10:00.
pub(crate) fn book() -> Book {
    let mut book = Book::default();
    for (number, side) in [("1", Side::Left), ("2", Side::Left), ("3", Side::Right), ("4", Side::Right)] {
        let vessel = (number != "4").then(vessel);
        book.stalls.push(Stall { id: number.into(), aisle: "main".to_owned(), side, vessel });
    }
    for (name, stall) in [("Pepper", "3"), ("Juniper", "1")] {
        let id = name.to_lowercase().as_str().into();
        let minutes = JobMinutes { brush: Minutes(15), tack: Minutes(10), put_away: Minutes(15) };
        let horse = Horse {
            id,
            name: name.to_owned(),
            stall: stall.into(),
            grade: 1,
            minutes,
            notes: vec!["dozes".into()],
            notes_spanish: Vec::new(),
            most: WorkLimits::default(),
            weight: None,
            height: None,
            resting: Resting::default(),
        };
        book.horses.insert(horse.id.clone(), horse);
    }
    for (id, role, badge) in [("ana", Role::Groom, "A1"), ("lena", Role::Staff, "B2")] {
        let name = format!("{}{}", id[..1].to_uppercase(), &id[1..]);
        let person =
            Person { id: id.into(), name, role, badge: Some(badge.into()), grade: 2, language: Default::default() };
        book.people.insert(person.id.clone(), person);
    }
    let lesson = Lesson {
        id: "l1".into(),
        days: Days::Weekly(vec![3]),
        start: TimeOfDay::new(10, 0).expect("a time"),
        minutes: Minutes(45),
        instructor: "lena".into(),
        place: "arena".to_owned(),
    };
    book.lessons.insert(lesson.id.clone(), lesson);
    let stirrups = Some(Stirrups { left: 9, right: 11 });
    let ride = Ride {
        id: "r1".into(),
        lesson: "l1".into(),
        horse: "pepper".into(),
        usage: "lesson".to_owned(),
        stirrups,
        load: None,
        only: None,
    };
    book.rides.insert(ride.id.clone(), ride);
    book
}

pub(crate) fn limits() -> Limits {
    Limits { barn: "Larkspur Hollow".to_owned(), zone: ZONE, ..Limits::default() }
}

pub(crate) fn level(stall: &str, percent: f64) -> Input {
    Input::Reading(Reading {
        sensor: Sensor::Water(stall.into()),
        measured: Measured::Level(Millimetres(percent * 3.0)),
        own_time: None,
    })
}

pub(crate) fn climate(place: &str, measured: Measured) -> Input {
    Input::Reading(Reading { sensor: Sensor::Climate(place.into()), measured, own_time: None })
}

/// A day that begins with the book open and the line to the sensors up, and is told minute by minute.
pub(crate) struct Day {
    pub(crate) barn: Barn,
    now: Now,
    said: Vec<Effect>,
    /// Messages that were ordered, in order.
    messages: Vec<Message>,
    /// The history of alarms, as the journal would have it.
    pub(crate) rows: BTreeMap<u64, Record>,
    touches: u32,
    /// Whether orders for plans are carried out, at once.
    planner: bool,
    /// The last order that was carried out, and its plan.
    pub(crate) planned: Option<(DayFile, PlanFile)>,
    /// How many plans were shown.
    pub(crate) shown: u32,
}

impl Day {
    pub(crate) fn begins(hour: u16, minute: u16) -> Self {
        let wall = ZONE.instant(thursday(), TimeOfDay::new(hour, minute).expect("a time"));
        Self::with_clock(WallClock::Set(wall))
    }

    pub(crate) fn with_clock(wall: WallClock) -> Self {
        let now = Now { mono: Mono(1_000_000), wall };
        let mut day = Self::empty(now);
        day.happens(Input::Limits(Arc::new(limits()))).happens(Input::Book(Arc::new(book())));
        day.happens(Input::Broker(Line::Up));
        day.says(&[]);
        day
    }

    fn empty(now: Now) -> Self {
        Self {
            barn: Barn::new(),
            now,
            said: Vec::new(),
            messages: Vec::new(),
            rows: BTreeMap::new(),
            touches: 0,
            planner: false,
            planned: None,
            shown: 0,
        }
    }

    /// A day on which somebody carries out orders for plans.
    pub(crate) fn planned(date: NaiveDate, (hour, minute): (u16, u16), book: Book) -> Self {
        let wall = ZONE.instant(date, TimeOfDay::new(hour, minute).expect("a time"));
        let mut day = Self::empty(Now { mono: Mono(1_000_000), wall: WallClock::Set(wall) });
        day.planner = true;
        day.happens(Input::Limits(Arc::new(limits()))).happens(Input::Book(Arc::new(book)));
        day.happens(Input::Broker(Line::Up)).after_ms(2_000);
        day.says(&[]);
        day
    }

    fn take(&mut self, effects: Vec<Effect>) {
        for effect in effects {
            if let (Effect::Plan(order), true) = (&effect, self.planner) {
                let made = make(order, &mut || true).expect("a day that can be planned");
                self.planned = Some((order.day.clone(), made.plan().clone()));
                if let Made::New(plan) = made {
                    self.shown += 1;
                    self.happens(Input::Plan(Arc::new(NewPlan { date: order.date, plan })));
                }
            }
            match &effect {
                Effect::Tell(message) => self.messages.push((**message).clone()),
                Effect::Keep(record) => {
                    self.rows.insert(record.alarm.id, (**record).clone());
                }
                _ => {}
            }
            self.said.push(effect);
        }
    }

    /// Goes on to a time of the same day. Deadlines on the way fire by themselves.
    pub(crate) fn at(&mut self, hour: u16, minute: u16) -> &mut Self {
        let WallClock::Set(wall) = self.now.wall else { panic!("this day has no clock: say `after`") };
        let then = ZONE.instant(ZONE.date(wall), TimeOfDay::new(hour, minute).expect("a time"));
        let ahead = u64::try_from(then.since(wall)).expect("a day goes forward");
        self.after_ms(ahead)
    }

    pub(crate) fn after_ms(&mut self, millis: u64) -> &mut Self {
        let until = self.now.mono.plus(millis);
        while let Some(due) = self.barn.next_deadline().filter(|due| *due <= until) {
            self.pass(due);
            let effects = self.barn.step(self.now, Input::Tick);
            self.take(effects);
            assert!(self.barn.next_deadline().is_none_or(|next| next > due), "a deadline must not be due for ever");
        }
        self.pass(until);
        self
    }

    fn pass(&mut self, mono: Mono) {
        let passed = mono.since(self.now.mono);
        self.now.mono = self.now.mono.plus(passed);
        if let WallClock::Set(wall) = self.now.wall {
            self.now.wall = WallClock::Set(wall.plus(passed as i64));
        }
    }

    pub(crate) fn clock_is_set_to(&mut self, wall: Wall) -> &mut Self {
        self.now.wall = WallClock::Set(wall);
        self.happens(Input::Clock)
    }

    pub(crate) fn wall(&self) -> Wall {
        self.now.wall.get().expect("this day has a clock")
    }

    pub(crate) fn happens(&mut self, input: Input) -> &mut Self {
        let effects = self.barn.step(self.now, input);
        self.take(effects);
        self
    }

    pub(crate) fn level(&mut self, stall: &str, percent: f64) -> &mut Self {
        self.happens(level(stall, percent))
    }

    pub(crate) fn air(&mut self, place: &str, fahrenheit: f64, humidity: f64) -> &mut Self {
        let Celsius(celsius) = Fahrenheit(fahrenheit).celsius();
        self.happens(climate(place, Measured::Temperature(Celsius(celsius))));
        self.happens(climate(place, Measured::Humidity(RelativeHumidity(humidity))))
    }

    pub(crate) fn battery(&mut self, stall: &str, percent: f64) -> &mut Self {
        let sensor = Sensor::Water(stall.into());
        self.happens(Input::Reading(Reading { sensor, measured: Measured::Battery(Percent(percent)), own_time: None }))
    }

    pub(crate) fn presence(&mut self, stall: &str, online: bool) -> &mut Self {
        self.happens(Input::Presence(Presence { sensor: Sensor::Water(stall.into()), online }))
    }

    pub(crate) fn tap(&mut self, badge: &str, own_time: Option<Wall>) -> &mut Self {
        self.happens(Input::Tap(Tap { reader: "door".into(), badge: badge.into(), own_time }))
    }

    pub(crate) fn touch(&mut self, action: Action) -> &mut Self {
        self.touches += 1;
        let id = format!("t{}", self.touches);
        self.touch_as(&id, action)
    }

    pub(crate) fn touch_as(&mut self, id: &str, action: Action) -> &mut Self {
        self.happens(Input::Touch(Touch {
            id: id.into(),
            kiosk: "aisle".into(),
            held_ms: 0,
            by: None,
            staff: None,
            action,
        }))
    }

    /// What the barn ordered since this was last asked, whole; redraws are left out.
    pub(crate) fn says(&mut self, expected: &[&str]) -> &mut Self {
        let said: Vec<_> = self.said.drain(..).filter_map(|effect| word(&effect)).collect();
        assert_eq!(said, expected, "at {:?}", self.now);
        self
    }

    /// What was answered to a touch; what else was said stays.
    pub(crate) fn answer(&mut self, touch: &str) -> String {
        let mut answer = None;
        let is_refusal = |effect: &Effect| matches!(effect, Effect::Refuse { .. });
        self.said.retain(|effect| match effect {
            Effect::Answer { touch: id, answer: given } if id.as_str() == touch => {
                answer = Some(given.clone());
                false
            }
            // A refused touch is counted too; it says the same.
            other => !is_refusal(other),
        });
        match answer.expect("every touch is answered") {
            Answer::Done => "done".to_owned(),
            Answer::Refused(why) => format!("refused: {why}"),
        }
    }

    /// Whether a screen was told to draw since this was last asked.
    pub(crate) fn redrew(&mut self) -> bool {
        let before = self.said.len();
        self.said.retain(|effect| *effect != Effect::Redraw);
        self.said.len() < before
    }

    /// The messages to persons that were ordered since this was last asked, whole.
    pub(crate) fn tells(&mut self, expected: &[&str]) -> &mut Self {
        let told: Vec<String> = self.messages().iter().map(told).collect();
        assert_eq!(told, expected, "at {:?}", self.now);
        self
    }

    /// The messages to persons that were ordered since this was last asked.
    pub(crate) fn messages(&mut self) -> Vec<Message> {
        let to_person = |message: &Message| matches!(message.to, To::Person(_));
        let mut messages = std::mem::take(&mut self.messages);
        messages.retain(to_person);
        messages
    }

    pub(crate) fn board(&self) -> Board {
        self.barn.board(self.now)
    }

    pub(crate) fn sensors(&self) -> Vec<SensorView> {
        self.barn.sensors(self.now)
    }

    /// A restart: everything goes through the snapshot's format.
    pub(crate) fn restart(&mut self) -> &mut Self {
        let snapshot = serde_json::to_string(&self.barn).expect("a barn can be written");
        let back: Barn = serde_json::from_str(&snapshot).expect("and read");
        assert_eq!(back, self.barn, "a snapshot is the barn");
        self.barn = back;
        self
    }
}

/// To whom, why, and what: `lena raised: stall 3, Pepper: bucket empty and not refilled`.
fn told(message: &Message) -> String {
    let To::Person(person) = &message.to else { panic!("machines are told apart") };
    let about = match &message.about {
        About::Raised => "raised".to_owned(),
        About::Worse => "worse".to_owned(),
        About::Climbed { untaken_min } => format!("untaken for {untaken_min}"),
        About::Taken => "taken".to_owned(),
        About::Ended => "over".to_owned(),
        About::Chattering { times } => format!("comes and goes, {times}"),
        About::Many { raised } => format!("{raised} in ten minutes"),
        About::Digest(_) => "digest".to_owned(),
        About::Test => "test".to_owned(),
    };
    let lines: Vec<String> = message.alarms.iter().map(|told| line(&told.alarm.what)).collect();
    format!("{person} {about}: {}", lines.join(" | "))
}

fn word(effect: &Effect) -> Option<String> {
    Some(match effect {
        Effect::Raise(alarm) => format!("raise {}: {}", alarm.id, alarm.what),
        Effect::End(alarm) => format!("end {}", alarm.id),
        Effect::Answer { touch, answer: Answer::Done } => format!("{touch} done"),
        Effect::Answer { touch, answer: Answer::Refused(why) } => format!("{touch} refused: {why}"),
        Effect::Refuse { from, why } => format!("refuse {from}: {why}"),
        Effect::SetClock(wall) => format!("set the clock to {wall}"),
        Effect::Plan(_) | Effect::Redraw | Effect::Tell(_) | Effect::Keep(_) => return None,
    })
}
