//! Staff: PINs, alarms put aside, horses taken out for the day, stand-ins, the clock.

use bellmare_barn::board::OpenRide;
use bellmare_barn::input::WhyAside;
use bellmare_barn::limits::DisplayUnits;
use bellmare_barn::prep::for_aisle::{Mind, WhyNot};
use bellmare_barn::prep::stand_in::Cost;
use bellmare_barn::refusal::Refusal;
use slint::{ComponentHandle, SharedString};

use super::{because, time};
use crate::ui::SayStaff;

fn ask(word: impl FnOnce(SayStaff<'_>) -> SharedString) -> String {
    super::ask(|app| word(app.global()))
}

/// Over the names.
pub fn who_has_seen() -> String {
    ask(|say| say.get_who_has_seen())
}

/// Who has seen it, in one touch.
pub fn seen_touch(name: &str) -> String {
    ask(|say| say.invoke_seen_touch(name.into()))
}

/// Who was told.
pub fn told(names: &str) -> String {
    ask(|say| say.invoke_told(names.into()))
}

/// It has ended.
pub fn is_over() -> String {
    ask(|say| say.get_is_over())
}

/// Over what staff can do with an alarm.
pub fn put_aside_how() -> String {
    ask(|say| say.get_put_aside_how())
}

/// Opens that for staff.
pub fn put_aside() -> String {
    ask(|say| say.get_put_aside())
}

/// Who may.
pub fn staff_pin() -> String {
    ask(|say| say.get_staff_pin())
}

/// For how long.
pub fn for_long(long: &str) -> String {
    ask(|say| say.invoke_for_long(long.into()))
}

/// It is aside.
pub fn aside_until(who: &str, time: &str, why: &str) -> String {
    ask(|say| say.invoke_aside_until(who.into(), time.into(), why.into()))
}

/// Ends that.
pub fn take_up() -> String {
    ask(|say| say.get_take_up())
}

/// To what staff do.
pub fn staff_mode() -> String {
    ask(|say| say.get_staff_mode())
}

/// By PIN.
pub fn pin() -> String {
    ask(|say| say.get_pin())
}

/// Over what staff can do.
pub fn acts_as_staff(name: &str) -> String {
    ask(|say| say.invoke_acts_as_staff(name.into()))
}

/// When that ends.
pub fn staff_ends() -> String {
    ask(|say| say.get_staff_ends())
}

/// Ends it now.
pub fn end() -> String {
    ask(|say| say.get_end())
}

/// What ends.
pub fn of_staff_mode() -> String {
    ask(|say| say.get_of_staff_mode())
}

/// Whose PIN.
pub fn whose_pin() -> String {
    ask(|say| say.get_whose_pin())
}

/// Nobody has one.
pub fn no_pins() -> String {
    ask(|say| say.get_no_pins())
}

/// Over the digits.
pub fn pin_of(name: &str) -> String {
    ask(|say| say.invoke_pin_of(name.into()))
}

/// The hub looks at it.
pub fn a_moment() -> String {
    ask(|say| say.get_a_moment())
}

/// What a PIN is.
pub fn six_digits() -> String {
    ask(|say| say.get_six_digits())
}

/// Not right, and when to try again.
pub fn again_in(why: &str, seconds: u64) -> String {
    ask(|say| say.invoke_again_in(why.into(), seconds.to_string().into()))
}

/// Staff can do nothing while the hub is silent.
pub fn hub_must_answer() -> String {
    ask(|say| say.get_hub_must_answer())
}

/// Takes the last digit out.
pub fn rub_out() -> String {
    ask(|say| say.get_rub_out())
}

/// Over the alarms.
pub fn alarms() -> String {
    ask(|say| say.get_alarms())
}

/// Over the reports.
pub fn wrong_reports() -> String {
    ask(|say| say.get_wrong_reports())
}

/// Over the horses.
pub fn horses_today() -> String {
    ask(|say| say.get_horses_today())
}

/// To the clock.
pub fn set_clock() -> String {
    ask(|say| say.get_set_clock())
}

/// The clock was set by hand.
pub fn by_hand() -> String {
    ask(|say| say.get_by_hand())
}

/// A horse does not work today.
pub fn not_today() -> String {
    ask(|say| say.get_not_today())
}

/// What that means.
pub fn no_more_work() -> String {
    ask(|say| say.get_no_more_work())
}

/// It does after all.
pub fn after_all() -> String {
    ask(|say| say.get_after_all())
}

/// What that means.
pub fn works_today() -> String {
    ask(|say| say.get_works_today())
}

/// A horse that does no more work today.
pub fn scratched() -> String {
    ask(|say| say.get_scratched())
}

/// The same in the place of a time.
pub fn rests() -> String {
    ask(|say| say.get_rests())
}

/// Why a horse is away, and until when.
pub fn away(why: &str, time: &str) -> String {
    ask(|say| say.invoke_away(why.into(), time.into()))
}

/// Who could take its ride.
pub fn stand_ins() -> String {
    ask(|say| say.get_stand_ins())
}

/// What that shows.
pub fn who_could_go() -> String {
    ask(|say| say.get_who_could_go())
}

/// Over the stand-ins.
pub fn in_place_of(time: &str, horse: &str) -> String {
    ask(|say| say.invoke_in_place_of(time.into(), horse.into()))
}

/// Who chooses.
pub fn who_chooses() -> String {
    ask(|say| say.get_who_chooses())
}

/// The hub is asked.
pub fn asking() -> String {
    ask(|say| say.get_asking())
}

/// Nothing speaks against a horse.
pub fn nothing_against() -> String {
    ask(|say| say.get_nothing_against())
}

/// A horse is away then.
pub fn away_from_to(start: &str, end: &str) -> String {
    ask(|say| say.invoke_away_from_to(start.into(), end.into()))
}

/// A horse is ridden then.
pub fn ridden(place: &str, start: &str, end: &str) -> String {
    ask(|say| say.invoke_ridden(place.into(), start.into(), end.into()))
}

/// It has no tack for that use.
pub fn no_tack_for(usage: &str) -> String {
    ask(|say| say.invoke_no_tack_for(usage.into()))
}

/// Its tack is on another horse.
pub fn tack_taken(pieces: &str, horse: &str, start: &str, end: &str) -> String {
    ask(|say| say.invoke_tack_taken(pieces.into(), horse.into(), start.into(), end.into()))
}

/// Over the digits of the clock.
pub fn clock_title() -> String {
    ask(|say| say.get_clock_title())
}

/// What to type.
pub fn clock_how() -> String {
    ask(|say| say.get_clock_how())
}

/// That can not be.
pub fn no_such_time() -> String {
    ask(|say| say.get_no_such_time())
}

/// Sets it.
pub fn set() -> String {
    ask(|say| say.get_set())
}

/// Why an alarm is put aside.
pub fn why_aside(why: WhyAside) -> String {
    ask(|say| match why {
        WhyAside::BeingSeenTo => say.get_being_seen_to(),
        WhyAside::Waits => say.get_has_to_wait(),
        WhyAside::NotSo => say.get_looked_not_so(),
    })
}

/// When a horse that was taken out was to go, and who goes instead.
pub fn open_rides(rides: &[OpenRide], units: DisplayUnits) -> String {
    let at = |ride: &OpenRide| time(ride.mount, units);
    let open: Vec<String> = rides.iter().filter(|ride| ride.instead.is_none()).map(at).collect();
    let needed = (!open.is_empty()).then(|| ask(|say| say.invoke_stand_in_needed(open.join(", ").into())));
    let goes = rides.iter().filter_map(|ride| Some(goes_at(&ride.instead.as_ref()?.name, &at(ride))));
    needed.into_iter().chain(goes).collect::<Vec<_>>().join(" · ")
}

/// Who goes, and when.
pub fn goes_at(horse: &str, time: &str) -> String {
    ask(|say| say.invoke_goes_at(horse.into(), time.into()))
}

/// The button that lets a horse go in place of another.
pub fn goes() -> String {
    ask(|say| say.get_goes())
}

/// What came of a PIN, and how long to wait before the next try.
pub fn pin_refused(refusal: &Refusal, wait_s: u64) -> String {
    let why = because(refusal);
    if wait_s > 0 { again_in(&why, wait_s) } else { why }
}

/// What speaks against a horse.
pub fn reason(reason: &WhyNot, units: DisplayUnits) -> String {
    let time = |at| time(at, units);
    match reason {
        WhyNot::Scratched => scratched(),
        WhyNot::Away { from, to } => away_from_to(&time(*from), &time(*to)),
        WhyNot::Ridden { place, from, to } => ridden(place, &time(*from), &time(*to)),
        WhyNot::TooMuchWork => ask(|say| say.get_above_limits()),
        WhyNot::AskOffice => ask(|say| say.get_office_knows()),
        WhyNot::NoTack { usage } => no_tack_for(usage),
        WhyNot::NoStirrups => ask(|say| say.get_no_stirrups()),
        WhyNot::TackTaken { pieces, on, from, to } => tack_taken(&pieces.join(", "), on, &time(*from), &time(*to)),
    }
}

/// What it costs the plan that a horse goes; nothing where it costs nothing that people would notice.
pub fn plan_cost(cost: &Cost) -> Vec<String> {
    let more = |more: i64| i32::try_from(more).ok().filter(|more| *more > 0);
    let missed = more(cost.missed).map(|n| ask(|say| say.invoke_more_missed(n)));
    let calls = more(cost.staff_calls).map(|n| ask(|say| say.invoke_more_calls(n)));
    let late = more(cost.minutes_late).map(|n| ask(|say| say.invoke_more_late(n)));
    [missed, calls, late].into_iter().flatten().collect()
}

/// What to mind with a horse all the same.
pub fn mind(caution: Mind) -> String {
    ask(|say| match caution {
        Mind::AskOffice => say.get_ask_office(),
        Mind::Heat(_) => say.get_hot_mind(),
    })
}
