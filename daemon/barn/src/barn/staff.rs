//! The barn and who acts as staff: who may have a PIN, whose touch counts as staff's, and what staff alone may do about the
//! hub itself. Joins `pins` with the book and the clock.

use chrono::NaiveDate;

use super::Barn;
use super::view::name_of;
use crate::book::Role;
use crate::effect::{Answer, Effect};
use crate::id::{KioskId, PersonId, TouchId};
use crate::input::{ClockSource, Pin, PinTried};
use crate::pins::PinHash;
use crate::refusal::{Because, Refusal};
use crate::time::{Mono, Now, TimeOfDay, WallClock};

/// Said to whom may not decide.
const WHO_DECIDES: &str = "staff, an instructor, the equine professional or the manager must do this";

/// Why a PIN can not be tried now.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct NoTry {
    /// Why.
    pub refusal: Refusal,
    /// In how many milliseconds it can be; 0 where waiting does not help.
    pub wait_ms: u64,
}

/// For the shell that checks PINs.
impl Barn {
    /// Whether this person may have a PIN.
    ///
    /// # Errors
    /// In words for a person, where not.
    pub fn may_have_pin(&self, person: &PersonId) -> Result<(), Refusal> {
        if self.role(person)?.acts_as_staff() {
            Ok(())
        } else {
            let allowed = "allowed are staff, instructors, equine professionals and managers";
            Err(Because::StaffOnly.says(format!("{person} needs no PIN: {allowed}")))
        }
    }

    /// The hash to check a person's PIN against.
    ///
    /// # Errors
    /// Where they have none, or after too many wrong ones.
    pub fn may_try_pin(&self, person: &PersonId, kiosk: &KioskId, now: Mono) -> Result<PinHash, NoTry> {
        let never = |refusal| NoTry { refusal, wait_ms: 0 };
        self.may_have_pin(person).map_err(never)?;
        let hash = self.pins.of(person);
        let hash = hash.ok_or_else(|| {
            let name = name_of(&self.book, person);
            never(Because::NoPin.says(format!("{name} has no PIN yet: whoever looks after the hub sets one")))
        })?;
        match self.pins.wait_ms(person, kiosk, now) {
            0 => Ok(hash.clone()),
            wait_ms => Err(NoTry { refusal: Because::TooManyPins.says("too many wrong PINs: wait"), wait_ms }),
        }
    }

    /// What this touch was answered, if it came before.
    pub fn answered(&self, touch: &TouchId) -> Option<Answer> {
        self.touches.answered(touch).cloned()
    }

    /// Where the barn takes the wall clock to come from.
    pub fn clock_source(&self) -> ClockSource {
        self.clock_source
    }
}

impl Barn {
    pub(super) fn keep_pin(&mut self, pin: Pin, effects: &mut Vec<Effect>) {
        let Pin { person, hash } = pin;
        // Taken away it may be of anybody.
        if hash.is_some()
            && let Err(refusal) = self.may_have_pin(&person)
        {
            return self.refuse("a PIN", refusal.why, effects);
        }
        self.pins.set(&person, hash);
        effects.push(Effect::Redraw);
    }

    pub(super) fn pin_tried(&mut self, tried: &PinTried, now: Now, effects: &mut Vec<Effect>) {
        let PinTried { kiosk, person, right } = tried;
        // Whose PIN was taken away meanwhile tried nothing.
        if self.pins.of(person).is_none() {
            return self.refuse(format!("kiosk {kiosk}"), format!("{person} has no PIN"), effects);
        }
        self.pins.tried(person, kiosk, *right, now.mono);
    }

    /// Forgets PINs of people who have left the book, or who no longer act as staff.
    pub(super) fn forget_pins(&mut self) {
        let book = &self.book;
        self.pins.retain(|person| book.people.get(person).is_some_and(|person| person.role.acts_as_staff()));
    }

    /// Who acts as staff by this touch.
    pub(super) fn acting<'p>(&self, staff: Option<&'p PersonId>) -> Result<&'p PersonId, Refusal> {
        let staff = staff.ok_or_else(|| Because::StaffOnly.says(format!("{WHO_DECIDES}: show your PIN first")))?;
        if self.role(staff)?.acts_as_staff() { Ok(staff) } else { Err(Because::StaffOnly.says(WHO_DECIDES)) }
    }

    /// Whether somebody may decide for a horse. In a barn where nobody has a PIN yet, whoever the touch names is believed, as
    /// ever; with the first PIN all must show theirs, or a name would do what a PIN is for.
    pub(super) fn decides(&self, staff: Option<&PersonId>, by: &PersonId) -> Result<(), Refusal> {
        if staff.is_some() || self.pins.any() {
            return self.acting(staff).map(drop);
        }
        if self.role(by)?.acts_as_staff() { Ok(()) } else { Err(Because::StaffOnly.says(WHO_DECIDES)) }
    }

    fn role(&self, person: &PersonId) -> Result<Role, Refusal> {
        self.known_person(person)?;
        self.book.people.get(person).map(|person| person.role).ok_or_else(|| Refusal::not_in_book("person", person))
    }

    /// Staff say what time it is, where nobody else can.
    pub(super) fn set_clock(
        &mut self,
        date: NaiveDate,
        time: TimeOfDay,
        staff: Option<&PersonId>,
        at: Mono,
        now: Now,
        effects: &mut Vec<Effect>,
    ) -> Result<(), Refusal> {
        self.acting(staff)?;
        if let (WallClock::Set(wall), ClockSource::System) = (now.wall, self.clock_source) {
            let time = self.limits.zone.time_of_day(wall);
            return Err(Because::ClockIsRight
                .says(format!("the hub's own clock is right and says {time}: it is not set by hand")));
        }
        if TimeOfDay::from_minutes(time.minutes()).is_none() {
            return Err(Because::OutOfRange
                .says(format!("time {}: allowed is 0 to 1439 minutes after midnight", time.minutes())));
        }
        let (first, last) = (NaiveDate::from_ymd_opt(2026, 1, 1), NaiveDate::from_ymd_opt(2099, 12, 31));
        if first.is_some_and(|first| date < first) || last.is_some_and(|last| date > last) {
            return Err(Because::OutOfRange.says(format!("date {date}: allowed is 2026-01-01 to 2099-12-31")));
        }
        self.clock_source = ClockSource::ByHand;
        // A kiosk that could not reach the hub has kept the touch: the clock has gone on since.
        let held = i64::try_from(now.mono.since(at)).unwrap_or(0);
        effects.push(Effect::SetClock(self.limits.zone.instant(date, time).plus(held)));
        Ok(())
    }
}
