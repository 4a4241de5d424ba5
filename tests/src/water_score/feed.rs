//! Feeds a barn with the messages of a made-up one, and keeps what it says.

use std::sync::Arc;

use bellmare_barn::barn::Barn;
use bellmare_barn::board::AlarmWhat;
use bellmare_barn::book::{
    Away, Book, Bucket, Days, Gauge as Looks, Horse, JobMinutes, Resting, Shape, Side, Stall, Vessel, WaterPlace,
    WorkLimits,
};
use bellmare_barn::effect::Effect;
use bellmare_barn::id::{BucketId, HorseId, StallId};
use bellmare_barn::input::{Input, Line, Measured, Reading, Sensor};
use bellmare_barn::limits::Limits;
use bellmare_barn::time::{Mono, Now, TimeOfDay, Wall, WallClock, Zone};
use bellmare_barn::units::{Celsius, Millimetres, Minutes, Percent, RelativeHumidity};
use bellmare_barn::water::bucket::How;
use bellmare_barn::water::dry::runs_dry;
use chrono::NaiveDate;

use crate::water_world::{Message, Record, Says, StallOfWorld, Walls, World};

/// What the barn said of one stall.
#[derive(Clone, Default, Debug)]
pub struct Told {
    /// Litres of each day.
    pub days: Vec<f64>,
    /// Drinks, refills and spills: how, from when to when in seconds, litres.
    pub happened: Vec<(How, f64, f64, f64)>,
    /// Alarms that were raised: when in seconds, and what.
    pub raised: Vec<(f64, AlarmWhat)>,
    /// When its water would be gone, asked now and then: when, and the earliest, middle and latest answer in minutes.
    pub dry: Vec<(f64, f64, [Option<u32>; 3])>,
}

/// The first midnight, in milliseconds since 1970: a Monday.
pub(crate) fn midnight() -> Wall {
    Zone(chrono_tz::UTC).instant(first_day(), TimeOfDay::from_minutes(0).unwrap_or(TimeOfDay::NOON))
}

fn first_day() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 1, 5).unwrap_or(NaiveDate::MIN)
}

/// That many seconds after the first midnight.
pub(crate) fn at(seconds: f64) -> Now {
    let millis = (seconds * 1000.0) as i64;
    Now { mono: Mono(1_000_000 + millis as u64), wall: WallClock::Set(midnight().plus(millis)) }
}

fn stall_name(n: usize) -> String {
    (n + 1).to_string()
}

/// The horse of a stall, counted from 0.
pub(crate) fn horse_name(n: usize) -> HorseId {
    HorseId::new(format!("h{}", n + 1))
}

/// The sensor of a bucket of a stall.
pub(crate) fn sensor(stall: usize, bucket: usize) -> Sensor {
    if bucket == 0 {
        Sensor::Water(StallId::new(stall_name(stall)))
    } else {
        Sensor::Bucket(BucketId::new(format!("{} far", stall_name(stall))))
    }
}

/// Lets the hub's barn hear all of it, and gives what it said of each stall with what was true there.
pub fn feed(world: &World, limits: Limits) -> Vec<(Told, Record)> {
    let lives: Vec<_> = world.stalls.iter().map(|stall| world.live(stall)).collect();
    let mut heard: Vec<(usize, Message)> = Vec::new();
    for (n, (messages, _)) in lives.iter().enumerate() {
        heard.extend(messages.iter().map(|message| (n, *message)));
    }
    heard.sort_by(|a, b| a.1.arrives.total_cmp(&b.1.arrives));
    let mut ears = Ears::open(world, limits);
    for (stall, message) in heard {
        ears.until(message.arrives);
        ears.hear(stall, &message);
    }
    ears.until(f64::from(world.days) * 86_400.0);
    ears.told.into_iter().zip(lives).map(|(told, (_, record))| (told, record)).collect()
}

/// The barn, and what it has said so far.
struct Ears<'a> {
    world: &'a World,
    barn: Barn,
    told: Vec<Told>,
    /// Up to when it was told of the air, in tens of minutes, and asked, in hours.
    tens: u32,
}

impl<'a> Ears<'a> {
    fn open(world: &'a World, limits: Limits) -> Self {
        let told = world.stalls.iter().map(|_| Told::default()).collect();
        let mut ears = Self { world, barn: Barn::new(), told, tens: 0 };
        for input in [
            Input::Started,
            Input::Limits(Arc::new(limits)),
            Input::Book(Arc::new(book(world))),
            Input::Broker(Line::Up),
        ] {
            ears.step(at(0.0), input);
        }
        ears
    }

    /// Time passes, the aisle's thermometer speaks every ten minutes, and every hour what is known is written down.
    fn until(&mut self, seconds: f64) {
        while f64::from(self.tens) * 600.0 <= seconds {
            let time = f64::from(self.tens) * 600.0;
            let celsius = self.world.air.celsius(time);
            for measured in [Measured::Temperature(Celsius(celsius)), Measured::Humidity(RelativeHumidity(60.0))] {
                let sensor = Sensor::Climate("aisle".into());
                self.step(at(time), Input::Reading(Reading { sensor, measured, own_time: None }));
            }
            if self.tens.is_multiple_of(6) && self.tens > 0 {
                self.write_down(time);
            }
            self.tens += 1;
        }
        self.step(at(seconds), Input::Tick);
    }

    fn hear(&mut self, stall: usize, message: &Message) {
        let measured = match message.says {
            Says::Level(millimetres) => Measured::Level(Millimetres(millimetres)),
            Says::Battery(percent) => Measured::Battery(Percent(percent)),
        };
        let own_time = message.own_time.map(|time| midnight().plus((time * 1000.0) as i64));
        let reading = Reading { sensor: sensor(stall, message.bucket), measured, own_time };
        self.step(at(message.arrives), Input::Reading(reading));
    }

    fn step(&mut self, now: Now, input: Input) {
        for effect in self.barn.step(now, input) {
            if let Effect::Raise(alarm) = effect
                && let Some(stall) = stall_of(&alarm.what)
            {
                let seconds = (alarm.raised.mono.0 as f64 - 1_000_000.0) / 1000.0;
                self.told[stall].raised.push((seconds, alarm.what));
            }
        }
    }

    fn write_down(&mut self, time: f64) {
        let seconds = |at: Mono| (at.0 as f64 - 1_000_000.0) / 1000.0;
        let today = first_day() + chrono::Days::new((time / 86_400.0) as u64);
        let minute = ((time % 86_400.0) / 60.0) as u32;
        for (n, told) in self.told.iter_mut().enumerate() {
            let place = WaterPlace::Stall(StallId::new(stall_name(n)));
            if let Some(supply) = self.barn.water_of(&place) {
                // What was said is said again with more, where a drink went on, or taken back.
                let oldest = supply.happened().next().map_or(f64::MAX, |one| seconds(one.from));
                told.happened.retain(|(_, from, ..)| *from < oldest);
                let new = supply.happened().map(|one| (one.how, seconds(one.from), seconds(one.to), one.litres.get()));
                told.happened.extend(new);
            }
            let Some(intake) = self.barn.intake_of(&horse_name(n)) else { continue };
            for day in intake.days() {
                let number = (day.date - first_day()).num_days() as usize;
                if told.days.len() <= number {
                    told.days.resize(number + 1, 0.0);
                }
                told.days[number] = day.total().get();
            }
            let litres = self.barn.water_of(&place).and_then(|supply| supply.content()).map(|content| content.litres);
            if let (true, Some(litres)) = (minute.is_multiple_of(360), litres)
                && let Some(dry) = runs_dry(intake, litres, today, minute)
            {
                told.dry.push((time, litres.get(), [dry.earliest, dry.usual, dry.latest]));
            }
        }
    }
}

/// The book of a made-up barn: its stalls, vessels and horses.
pub(crate) fn book(world: &World) -> Book {
    let mut book = Book::default();
    for (n, stall) in world.stalls.iter().enumerate() {
        let id = StallId::new(stall_name(n));
        let mut vessels = stall.buckets.iter().enumerate().map(|(bucket, _)| vessel(stall, bucket));
        book.stalls.push(Stall { id: id.clone(), aisle: "main".to_owned(), side: Side::Left, vessel: vessels.next() });
        for (bucket, vessel) in (1..).zip(vessels) {
            let Sensor::Bucket(name) = sensor(n, bucket) else { continue };
            book.buckets.push(Bucket { id: name, at: WaterPlace::Stall(id.clone()), vessel });
        }
        let horse = horse_name(n);
        if let Some((from, to)) = stall.out {
            let time = |hour: f64| TimeOfDay::from_minutes((hour * 60.0) as u16).unwrap_or(TimeOfDay::NOON);
            book.away.push(Away {
                horse: horse.clone(),
                days: Days::Weekly((0..7).collect()),
                from: time(from),
                to: time(to),
                why: "turn-out".to_owned(),
            });
        }
        book.horses.insert(
            horse.clone(),
            Horse {
                name: horse.to_string(),
                id: horse,
                stall: id,
                grade: 1,
                minutes: JobMinutes { brush: Minutes(15), tack: Minutes(10), put_away: Minutes(15) },
                notes: Vec::new(),
                notes_spanish: Vec::new(),
                most: WorkLimits::default(),
                weight: None,
                height: None,
                resting: Resting::default(),
            },
        );
    }
    book
}

fn vessel(stall: &StallOfWorld, bucket: usize) -> Vessel {
    let mm = Millimetres;
    let shape = match stall.buckets[bucket].walls {
        Walls::Round(bottom, top, height) => Shape::Round { bottom: mm(bottom), top: mm(top), height: mm(height) },
        Walls::FlatBack(bottom, top, height, depth) => {
            Shape::FlatBack { bottom: mm(bottom), top: mm(top), depth: mm(depth), height: mm(height) }
        }
        Walls::Box(length, width, height) => Shape::Trough {
            bottom_length: mm(length),
            bottom_width: mm(width),
            top_length: mm(length),
            top_width: mm(width),
            height: mm(height),
        },
    };
    let gauge = &stall.gauges[bucket];
    let empty = mm(gauge.empty);
    let gauge = if gauge.kind.looks_down() { Looks::Down { to_bottom: empty } } else { Looks::Up { at_bottom: empty } };
    Vessel { shape, gauge }
}

/// Which stall an alarm is about; none for what is no stall's.
pub(crate) fn stall_of(what: &AlarmWhat) -> Option<usize> {
    let name = match what {
        AlarmWhat::BucketEmpty { stall, .. }
        | AlarmWhat::BucketLow { stall, .. }
        | AlarmWhat::Ice { stall, .. }
        | AlarmWhat::NotDrinking { stall, .. }
        | AlarmWhat::DrinksLittle { stall, .. }
        | AlarmWhat::DrinksMuch { stall, .. } => stall.as_str(),
        AlarmWhat::Leak { sensor, .. }
        | AlarmWhat::SensorFaulty { sensor, .. }
        | AlarmWhat::SensorSilent { sensor }
        | AlarmWhat::BatteryLow { sensor } => match sensor {
            Sensor::Water(stall) => stall.as_str(),
            Sensor::Bucket(bucket) => bucket.as_str().split(' ').next()?,
            Sensor::Climate(_) => return None,
        },
        _ => return None,
    };
    name.parse::<usize>().ok()?.checked_sub(1)
}
