//! The people of the made-up barn, their shifts and their lessons.

use bellmare_barn::book::{Book, Days, Lesson, Person, Ride, Role};
use bellmare_barn::input::{Line, Mark, Step};
use bellmare_barn::limits::Limits;
use bellmare_barn::time::TimeOfDay;
use bellmare_barn::units::Minutes;

use super::{Deed, Run, Truth};
use crate::water_score::feed;
use crate::water_world::DAY;

/// From when to when, in hours of a day.
type Hours = (f64, f64);

/// Who works here: id, role, hours on weekdays, hours at weekends.
const PEOPLE: &[(&str, Role, Option<Hours>, Option<Hours>)] = &[
    ("lena", Role::Staff, Some((6.5, 15.0)), Some((6.5, 12.0))),
    ("theo", Role::Staff, Some((12.0, 20.75)), Some((14.0, 20.75))),
    ("erin", Role::EquineProfessional, Some((9.0, 17.0)), None),
    ("mara", Role::Manager, Some((9.0, 16.0)), None),
    ("gina", Role::Groom, Some((8.0, 16.5)), None),
    ("hugo", Role::Groom, Some((8.5, 16.5)), None),
];
/// Hours at which lessons begin on weekdays, and how many horses go.
const LESSONS: [(f64, usize); 3] = [(10.0, 3), (11.25, 3), (14.0, 3)];

/// Everybody but the grooms can be reached.
pub(super) fn limits() -> Limits {
    let mut limits = Limits::default();
    let reachable = PEOPLE.iter().filter(|(_, role, ..)| *role != Role::Groom);
    limits.tell.reachable = reachable.map(|(id, ..)| (*id).into()).collect();
    limits
}

pub(super) fn write(book: &mut Book) {
    for (id, role, ..) in PEOPLE {
        let person = Person {
            id: (*id).into(),
            name: (*id).to_owned(),
            role: *role,
            badge: None,
            grade: 3,
            language: Default::default(),
        };
        book.people.insert(person.id.clone(), person);
    }
    let horses = book.horses.len();
    for (n, (hour, count)) in LESSONS.into_iter().enumerate() {
        let id = format!("lesson {n}");
        let lesson = Lesson {
            id: id.as_str().into(),
            days: Days::Weekly((0..5).collect()),
            start: TimeOfDay::from_minutes((hour * 60.0) as u16).unwrap_or(TimeOfDay::NOON),
            minutes: Minutes(45),
            instructor: "erin".into(),
            place: "arena".to_owned(),
        };
        book.lessons.insert(lesson.id.clone(), lesson);
        for k in 0..count {
            let ride = Ride {
                id: ride(n, k).as_str().into(),
                lesson: id.as_str().into(),
                horse: feed::horse_name(horse(n, k, horses)),
                usage: "lesson".to_owned(),
                stirrups: None,
                load: None,
                only: None,
            };
            book.rides.insert(ride.id.clone(), ride);
        }
    }
}

fn ride(lesson: usize, k: usize) -> String {
    format!("ride {lesson} {k}")
}

/// Horses that are not out in the afternoon: those are every third.
fn horse(lesson: usize, k: usize, horses: usize) -> usize {
    (3 * (lesson * 3 + k) + 1) % horses
}

impl Run<'_> {
    pub(super) fn people_come_and_go(&mut self, days: u32, truth: &mut Truth) {
        let horses = self.world.stalls.len();
        for day in 0..days {
            let midnight = f64::from(day) * DAY;
            let weekend = day % 7 > 4;
            for (id, _, weekdays, weekends) in PEOPLE {
                let Some((from, to)) = (if weekend { *weekends } else { *weekdays }) else { continue };
                let minutes = self.dice.within(-8.0..8.0) * 60.0;
                self.will(midnight + from * 3600.0 + minutes, Deed::SignIn(id, true));
                self.will(midnight + to * 3600.0 + minutes, Deed::SignIn(id, false));
            }
            if weekend {
                continue;
            }
            for (n, (hour, count)) in LESSONS.into_iter().enumerate() {
                let mount = midnight + hour * 3600.0;
                // Once in some weeks somebody forgets a lesson's horses.
                let late = self.dice.happens(0.02);
                if late {
                    truth.late.push(mount);
                }
                for k in 0..count {
                    let horse = horse(n, k, horses);
                    let begun = mount - self.dice.within(50.0..62.0) * 60.0;
                    let tacked = mount + if late { 600.0 } else { -self.dice.within(13.0..22.0) * 60.0 };
                    let mut says = |at, step, mark| self.will(at, Deed::Marks(ride(n, k), horse, step, mark));
                    says(if late { mount - 600.0 } else { begun }, Step::Brush, Mark::Begun);
                    says(tacked, Step::Tack, Mark::Done);
                    says(mount.max(tacked), Step::LeadOut, Mark::Done);
                    says(mount + 47.0 * 60.0, Step::BringBack, Mark::Done);
                    says(mount + 60.0 * 60.0, Step::PutAway, Mark::Done);
                }
            }
        }
    }

    pub(super) fn broker_is_cut(&mut self, days: u32, cuts: u32, truth: &mut Truth) {
        for n in 0..cuts {
            // Apart from each other, by day and by night; every third for a moment only.
            let part = f64::from(days) * DAY / f64::from(cuts);
            let from = f64::from(n) * part + self.dice.within(0.1..0.9) * part;
            let to = from + if n % 3 == 1 { 5.0 } else { self.dice.within(90.0..1500.0) };
            self.will(from, Deed::Line(Line::Down("the line is cut".to_owned())));
            self.will(to, Deed::Line(Line::Up));
            truth.cuts.push((from, to));
        }
    }
}
