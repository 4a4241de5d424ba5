//! What the barn has written down: who stands where, whose tack is which, who comes when. The book is replaced whole or
//! not at all; a reader of files (in the hub) has found every fault before one of these is made.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::board::Job;
use crate::hands::Hands;
use crate::id::{BadgeId, BucketId, ChoreId, HorseId, LessonId, PersonId, PlaceId, RideId, StallId, TackId};
use crate::input::Sensor;
use crate::language::{Language, Text};
use crate::time::TimeOfDay;
use crate::units::{Celsius, Kilograms, Litres, Millimetres, Minutes, PerMinute};

/// The whole book.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Book {
    /// Stalls in the order of the aisle: aisle by aisle, left row then right row, from the door inwards.
    pub stalls: Vec<Stall>,
    /// Horses by id.
    pub horses: BTreeMap<HorseId, Horse>,
    /// Tack by id.
    pub tack: BTreeMap<TackId, Tack>,
    /// Which tack goes on which horse for which use, in the order it goes on.
    pub fits: Vec<Fit>,
    /// People by id.
    pub people: BTreeMap<PersonId, Person>,
    /// Lessons by id.
    pub lessons: BTreeMap<LessonId, Lesson>,
    /// Rides by id.
    pub rides: BTreeMap<RideId, Ride>,
    /// Chores by id.
    pub chores: BTreeMap<ChoreId, Chore>,
    /// The shift sheet: who is expected when.
    #[serde(default)]
    pub shifts: Vec<Expected>,
    /// When which horse is not to be had.
    #[serde(default)]
    pub away: Vec<Away>,
    /// Vessels besides those of the stalls.
    #[serde(default)]
    pub buckets: Vec<Bucket>,
    /// The steps of each job, in their order, in the barn's own words.
    #[serde(default)]
    pub steps: Vec<JobStep>,
}

/// A stall and its bucket.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Stall {
    /// Number or name on the door.
    pub id: StallId,
    /// Which aisle it opens to. A small barn has one.
    pub aisle: String,
    /// Which side of the aisle, coming in by the main door.
    pub side: Side,
    /// The bucket in it; a stall that stands empty may have none.
    pub vessel: Option<Vessel>,
}

/// A side of the aisle, coming in by the main door.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// On the left.
    Left,
    /// On the right.
    Right,
}

/// What holds the water, and the sensor over or in it. Inside measures.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Vessel {
    /// Its shape.
    #[serde(flatten)]
    pub shape: Shape,
    /// How its sensor looks at the water.
    pub gauge: Gauge,
}

/// Shape of a vessel. Each is written with its own measures; books of before there were others hold round ones.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Shape {
    /// A bucket with a flat back for the wall: round but for a slice that is cut off all the way up.
    FlatBack {
        /// Inside diameter at the bottom, along the wall.
        bottom: Millimetres,
        /// Inside diameter at the height to which it is filled, along the wall.
        top: Millimetres,
        /// From the flat back to the front at the height to which it is filled; less than `top`.
        depth: Millimetres,
        /// Height to which it is filled.
        height: Millimetres,
    },
    /// A round bucket or tub that may widen towards the top.
    Round {
        /// Inside diameter at the bottom.
        bottom: Millimetres,
        /// Inside diameter at the height to which it is filled.
        top: Millimetres,
        /// Height to which it is filled: full is full at this height.
        height: Millimetres,
    },
    /// A trough of four walls, which may lean outwards.
    Trough {
        /// Inside length at the bottom.
        bottom_length: Millimetres,
        /// Inside width at the bottom.
        bottom_width: Millimetres,
        /// Inside length at the height to which it is filled.
        top_length: Millimetres,
        /// Inside width at the height to which it is filled.
        top_width: Millimetres,
        /// Height to which it is filled.
        height: Millimetres,
    },
    /// A drum that lies on its side, filled through its top.
    Drum {
        /// Inside diameter.
        across: Millimetres,
        /// Inside length.
        long: Millimetres,
    },
    /// Any other: what the barn has measured, a level and its litres each, rising in both; between two it is a straight
    /// line. The last is full.
    Table {
        /// Height of the water over the bottom, and litres.
        table: Vec<(Millimetres, Litres)>,
    },
}

/// A vessel besides the one that a stall is written with: a second bucket, or a trough in a paddock.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Bucket {
    /// What its sensor calls it.
    pub id: BucketId,
    /// Where it stands.
    pub at: WaterPlace,
    /// What it holds.
    pub vessel: Vessel,
}

/// Where there is water. All vessels of one place add up.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WaterPlace {
    /// A stall: what is drunk there was drunk by the horse that stands in it.
    Stall(StallId),
    /// A paddock: what is drunk there was drunk by nobody in particular.
    Paddock(PlaceId),
}

/// How a level sensor looks at the water.
#[derive(Clone, Copy, PartialEq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Gauge {
    /// From above: it reads the distance to the water, and this distance to the bottom when empty.
    Down {
        /// What it reads over an empty bucket.
        to_bottom: Millimetres,
    },
    /// From below: it reads the height of the water, and this when empty.
    Up {
        /// What it reads in an empty bucket.
        at_bottom: Millimetres,
    },
}

/// A horse.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Horse {
    /// Its id in the book.
    pub id: HorseId,
    /// Its barn name.
    pub name: String,
    /// Where it stands.
    pub stall: StallId,
    /// How hard it is to handle: 1 (anyone who has been shown) to 3 (experienced hands only).
    pub grade: u8,
    /// How long its jobs take.
    pub minutes: JobMinutes,
    /// How it likes to be handled, in the barn's words, a line each.
    pub notes: Vec<String>,
    /// The same in Spanish, where somebody has written it.
    #[serde(default)]
    pub notes_spanish: Vec<String>,
    /// How much work it may be given, as the equine professional has set it.
    #[serde(default)]
    pub most: WorkLimits,
    /// What it weighs, as it was last written down. For the office; never on a screen in the aisle.
    #[serde(default)]
    pub weight: Option<Kilograms>,
    /// How high it stands at the withers.
    #[serde(default)]
    pub height: Option<Hands>,
    /// What was measured of it at rest while it was well.
    #[serde(default)]
    pub resting: Resting,
}

/// A horse's own resting record: what it is like when it is well and has not worked. What is not known is not there.
#[derive(Clone, Copy, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct Resting {
    /// Rectal temperature.
    #[serde(default)]
    pub temperature: Option<Celsius>,
    /// Heart beats in a minute.
    #[serde(default)]
    pub pulse: Option<PerMinute>,
    /// Breaths in a minute.
    #[serde(default)]
    pub breaths: Option<PerMinute>,
}

/// How much work a horse may be given. The equine professional sets it, with the vet where there is cause; nothing here
/// proposes a figure, and what is not set is not limited by this program.
#[derive(Clone, Copy, PartialEq, Debug, Default, Serialize, Deserialize)]
pub struct WorkLimits {
    /// Rides in a day.
    pub rides_a_day: Option<u8>,
    /// Minutes of riding without a rest, rides that follow each other under the same tack taken together.
    pub minutes_in_a_row: Option<Minutes>,
    /// Minutes of riding in a day.
    pub minutes_a_day: Option<Minutes>,
    /// Days of work in a week, Monday to Sunday.
    pub days_a_week: Option<u8>,
    /// What it may carry: rider, saddle and all.
    pub load: Option<Kilograms>,
}

/// How long the jobs on a horse take.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct JobMinutes {
    /// Groom it and look it over.
    pub brush: Minutes,
    /// Put its tack on.
    pub tack: Minutes,
    /// Untack, disinfect the girth, brush, back to its stall.
    pub put_away: Minutes,
}

/// A piece of tack.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Tack {
    /// Its id in the book.
    pub id: TackId,
    /// What it is.
    pub kind: TackKind,
    /// What people call it: "saddle 12", "wool pad".
    pub name: String,
    /// Its size as people say it: "17 inch", "44"; empty where it has none.
    pub size: String,
    /// Where it hangs: "rack 4".
    pub place: String,
}

/// Kinds of tack.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TackKind {
    /// A pad or blanket under the saddle, or a riser.
    Pad,
    /// A saddle.
    Saddle,
    /// A surcingle: a strap with handles, in place of a saddle.
    Surcingle,
    /// A girth.
    Girth,
    /// A pair of stirrups.
    Stirrups,
    /// A bridle.
    Bridle,
    /// Reins, where they are a piece of their own.
    Reins,
    /// A halter.
    Halter,
    /// Anything else: boots, a neck strap.
    Other,
}

/// One piece of tack on one horse for one use.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Fit {
    /// Which horse.
    pub horse: HorseId,
    /// For what: "lesson", "lead line". The barn's own word; rides name it.
    pub usage: String,
    /// Its turn: 1 goes on first.
    pub order: u32,
    /// Which piece.
    pub tack: TackId,
    /// How, where it matters: "on the halter".
    pub note: String,
    /// The same in Spanish; empty where nobody has written it.
    #[serde(default)]
    pub note_spanish: String,
}

/// A person who may sign in.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Person {
    /// Their id in the book.
    pub id: PersonId,
    /// What the aisle calls them: a first name or a name of their choice.
    pub name: String,
    /// What they do here.
    pub role: Role,
    /// Their badge, where they have one.
    pub badge: Option<BadgeId>,
    /// Up to which grade of horse they are cleared, 0 to 3; 0: no horse alone.
    pub grade: u8,
    /// What they read.
    #[serde(default)]
    pub language: Language,
}

/// What a person does here.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// Readies horses and keeps the barn.
    Groom,
    /// Leads a horse in the lesson.
    HorseLeader,
    /// Walks beside a rider.
    SideWalker,
    /// Teaches.
    Instructor,
    /// Answers for the horses.
    EquineProfessional,
    /// Barn staff.
    Staff,
    /// Runs the barn.
    Manager,
}

impl Role {
    /// True for those who answer for horses and barn: they decide about hay, close reports and put alarms aside.
    pub fn is_staff(self) -> bool {
        matches!(self, Role::Staff | Role::EquineProfessional | Role::Manager)
    }

    /// True for those who say which horse goes a ride in place of another.
    pub fn chooses_horses(self) -> bool {
        matches!(self, Role::EquineProfessional | Role::Manager)
    }

    /// True for those who may act as staff: decide for horses, and answer for what the barn is told.
    pub fn acts_as_staff(self) -> bool {
        matches!(self, Role::Staff | Role::EquineProfessional | Role::Manager | Role::Instructor)
    }
}

/// A lesson.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Lesson {
    /// Its id in the book.
    pub id: LessonId,
    /// On which days it is held.
    pub days: Days,
    /// When riders mount.
    pub start: TimeOfDay,
    /// How long it lasts.
    pub minutes: Minutes,
    /// Who teaches: an aisle names a lesson by its time and its instructor.
    pub instructor: PersonId,
    /// Where it is held.
    pub place: String,
}

/// Days on which something is held.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Days {
    /// One day.
    On(NaiveDate),
    /// Every week on these, Monday 0 to Sunday 6, in order.
    Weekly(Vec<u8>),
}

impl Days {
    /// True where it is held on this date.
    pub fn include(&self, date: NaiveDate) -> bool {
        match self {
            Days::On(day) => *day == date,
            Days::Weekly(weekdays) => weekdays.contains(&crate::time::Zone::weekday(date)),
        }
    }
}

/// One horse in one lesson. Who rides is not written here.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Ride {
    /// Its id in the book.
    pub id: RideId,
    /// In which lesson.
    pub lesson: LessonId,
    /// On which horse.
    pub horse: HorseId,
    /// For what: chooses the tack.
    pub usage: String,
    /// Stirrup lengths, where stirrups are used.
    pub stirrups: Option<Stirrups>,
    /// What the horse carries in it: rider, saddle and all. For the office; never on a screen in the aisle.
    #[serde(default)]
    pub load: Option<Kilograms>,
    /// The one day on which it is, where a horse goes in place of another; none where it is on every day of its lesson.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub only: Option<NaiveDate>,
}

impl Ride {
    /// The same ride on another horse, on one day. It has an id of its own: what has begun on the one has not begun on the other.
    pub fn on(&self, horse: &HorseId, date: NaiveDate) -> Self {
        Self { id: ride_on(&self.id, horse), horse: horse.clone(), only: Some(date), ..self.clone() }
    }
}

/// The id of a ride on another horse.
pub fn ride_on(ride: &RideId, horse: &HorseId) -> RideId {
    RideId::new(format!("{ride} on {horse}"))
}

/// Stirrup lengths as the barn counts them: holes, or whole units on the leather.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Stirrups {
    /// Left, 1 to 40.
    pub left: u8,
    /// Right, 1 to 40.
    pub right: u8,
}

/// A chore of the barn.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Chore {
    /// Its id in the book.
    pub id: ChoreId,
    /// What is to be done.
    pub name: String,
    /// The same in Spanish; empty where nobody has written it.
    #[serde(default)]
    pub name_spanish: String,
    /// Where.
    pub place: String,
    /// The same in Spanish; empty where nobody has written it.
    #[serde(default)]
    pub place_spanish: String,
    /// On which days.
    pub days: Days,
    /// By when.
    pub by: TimeOfDay,
}

/// One step of a job, in the barn's own words.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct JobStep {
    /// Of which job.
    pub job: Job,
    /// Its turn: 1 comes first.
    pub order: u32,
    /// What to do.
    pub text: Text,
    /// True where it keeps horse or person from harm.
    pub caution: bool,
}

/// A line of the shift sheet.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Expected {
    /// Who.
    pub person: PersonId,
    /// On which days.
    pub days: Days,
    /// From when.
    pub from: TimeOfDay,
    /// Until when, later than `from`.
    pub to: TimeOfDay,
}

/// A time at which a horse is not to be had.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Away {
    /// Which horse.
    pub horse: HorseId,
    /// On which days.
    pub days: Days,
    /// From when.
    pub from: TimeOfDay,
    /// Until when, later than `from`.
    pub to: TimeOfDay,
    /// Why: "turn-out", "farrier", "vet".
    pub why: String,
}

impl Book {
    /// The stall of that name.
    pub fn stall(&self, id: &StallId) -> Option<&Stall> {
        self.stalls.iter().find(|stall| stall.id == *id)
    }

    /// Every vessel with a sensor: which sensor, where, and what it holds.
    pub fn vessels(&self) -> impl Iterator<Item = (Sensor, WaterPlace, &Vessel)> {
        let own = self.stalls.iter().filter_map(|stall| {
            let vessel = stall.vessel.as_ref()?;
            Some((Sensor::Water(stall.id.clone()), WaterPlace::Stall(stall.id.clone()), vessel))
        });
        let others =
            self.buckets.iter().map(|bucket| (Sensor::Bucket(bucket.id.clone()), bucket.at.clone(), &bucket.vessel));
        own.chain(others)
    }

    /// The horse that stands there.
    pub fn horse_in(&self, stall: &StallId) -> Option<&Horse> {
        self.horses.values().find(|horse| horse.stall == *stall)
    }

    /// Whose badge it is.
    pub fn person_with(&self, badge: &BadgeId) -> Option<&Person> {
        self.people.values().find(|person| person.badge.as_ref() == Some(badge))
    }

    /// The day's rides with their lessons, in order of mount time, then id.
    pub fn rides_on(&self, date: NaiveDate) -> Vec<(&Ride, &Lesson)> {
        let mut rides: Vec<_> = self
            .rides
            .values()
            .filter_map(|ride| self.lessons.get(&ride.lesson).map(|lesson| (ride, lesson)))
            .filter(|(ride, lesson)| lesson.days.include(date) && ride.only.is_none_or(|only| only == date))
            .collect();
        rides.sort_by(|(a, at), (b, bt)| (at.start, &a.id).cmp(&(bt.start, &b.id)));
        rides
    }

    /// The tack of a horse for a use, in the order it goes on.
    pub fn tack_for(&self, horse: &HorseId, usage: &str) -> Vec<(&Fit, &Tack)> {
        let mut worn: Vec<_> = self
            .fits
            .iter()
            .filter(|fit| fit.horse == *horse && fit.usage == usage)
            .filter_map(|fit| self.tack.get(&fit.tack).map(|tack| (fit, tack)))
            .collect();
        worn.sort_by_key(|(fit, _)| fit.order);
        worn
    }
}
