//! The work before and after a ride, in the aisle and on a horse's card.

use bellmare_barn::board::{Job, LessonView, Who};
use bellmare_barn::input::Step;
use bellmare_barn::limits::DisplayUnits;
use slint::{ComponentHandle, SharedString};

use super::{minutes, time, together};
use crate::ui::SayWork;

fn ask(word: impl FnOnce(SayWork<'_>) -> SharedString) -> String {
    super::ask(|app| word(app.global()))
}

/// A job, as the aisle says it.
pub fn job(job: Job) -> String {
    ask(|say| match job {
        Job::Brush => say.get_brush(),
        Job::Tack => say.get_tack_up(),
        Job::LeadOut => say.get_lead_out(),
        Job::PutAway => say.get_put_away(),
    })
}

/// Whose a job is; nothing where it is nobody's yet.
pub fn who(who: &Who) -> String {
    match who {
        Who::Open => String::new(),
        Who::Staff => ask(|say| say.get_staff()),
        Who::Person { name, .. } => name.clone(),
    }
}

/// The button that says a step was begun.
pub fn begin(step: Step) -> String {
    ask(|say| match step {
        Step::Brush => say.get_begin_brush(),
        Step::Tack => say.get_begin_tack(),
        Step::LeadOut => say.get_begin_lead_out(),
        Step::BringBack => say.get_begin_bring_back(),
        Step::PutAway => say.get_begin_put_away(),
    })
}

/// The button that says a step is done.
pub fn done(step: Step) -> String {
    ask(|say| match step {
        Step::Brush => say.get_done_brush(),
        Step::Tack => say.get_done_tack(),
        Step::LeadOut => say.get_done_lead_out(),
        Step::BringBack => say.get_done_bring_back(),
        Step::PutAway => say.get_done_put_away(),
    })
}

/// A step that is done, as a horse's state.
pub fn is_done(step: Step) -> String {
    ask(|say| match step {
        Step::Brush => say.get_is_brushed(),
        Step::Tack => say.get_is_tacked(),
        Step::LeadOut => say.get_is_led_out(),
        Step::BringBack => say.get_is_brought_back(),
        Step::PutAway => say.get_is_put_away(),
    })
}

/// A step that somebody is at.
pub fn begun(step: Step) -> String {
    ask(|say| match step {
        Step::Brush => say.get_being_brushed(),
        Step::Tack => say.get_being_tacked(),
        Step::LeadOut => say.get_being_led_out(),
        Step::BringBack => say.get_being_brought_back(),
        Step::PutAway => say.get_being_put_away(),
    })
}

/// Takes the last step back.
pub fn undo() -> String {
    ask(|say| say.get_undo())
}

/// What [`undo`] takes back.
pub fn undo_what(step: Step) -> String {
    ask(|say| match step {
        Step::Brush => say.get_not_brushed(),
        Step::Tack => say.get_not_tacked(),
        Step::LeadOut => say.get_not_led_out(),
        Step::BringBack => say.get_not_brought_back(),
        Step::PutAway => say.get_not_put_away(),
    })
}

/// How long a step is taken to last, and on how many times that rests.
pub fn takes(min: u32, times: u32) -> String {
    let length = minutes(min).into();
    ask(|say| match times {
        0 => say.invoke_about(length),
        _ => say.invoke_about_from(length, i32::try_from(times).unwrap_or(i32::MAX)),
    })
}

/// No step of the work was begun.
pub fn not_begun() -> String {
    ask(|say| say.get_not_begun())
}

/// Behind its time.
pub fn late() -> String {
    ask(|say| say.get_late())
}

/// Ready, or out.
pub fn ready() -> String {
    ask(|say| say.get_ready())
}

/// A horse that is to be put away.
pub fn back_from_ride() -> String {
    ask(|say| say.get_back_from_ride())
}

/// What the plan can not have ready.
pub fn can_not_go() -> String {
    ask(|say| say.get_can_not_go())
}

/// Over the jobs.
pub fn next() -> String {
    ask(|say| say.get_next())
}

/// No job is left.
pub fn nothing_next() -> String {
    ask(|say| say.get_nothing_next())
}

/// No lesson today.
pub fn no_lessons() -> String {
    ask(|say| say.get_no_lessons())
}

/// A lesson on the time line, for who listens.
pub fn lesson(lesson: &LessonView, units: DisplayUnits) -> String {
    let (at, ready, horses) = (time(lesson.start, units), lesson.ready.to_string(), lesson.horses.to_string());
    let said = ask(|say| {
        say.invoke_lesson(
            at.as_str().into(),
            (&lesson.instructor).into(),
            ready.as_str().into(),
            horses.as_str().into(),
        )
    });
    match lesson.without {
        0 => said,
        riders => together(&[&said, &ask(|say| say.invoke_riders_without(riders as i32))]),
    }
}

/// A stall.
pub fn stall(number: &str) -> String {
    ask(|say| say.invoke_stall(number.into()))
}

/// Which stalls a page holds.
pub fn page(spans: &[(String, String)], page: usize, pages: usize) -> String {
    let span = |(first, last): &(String, String)| {
        if first == last { first.clone() } else { ask(|say| say.invoke_span(first.into(), last.into())) }
    };
    let spans: Vec<String> = spans.iter().map(span).collect();
    let (page, pages) = (page.to_string(), pages.to_string());
    ask(|say| say.invoke_page(spans.join(", ").into(), page.into(), pages.into()))
}

/// The page of jobs.
pub fn work_page(page: usize, pages: usize) -> String {
    ask(|say| say.invoke_work_page(page.to_string().into(), pages.to_string().into()))
}

/// When a horse must be ready, when it is mounted, and by whom it is taught.
pub fn ride(ready_by: &str, mount: &str, instructor: &str) -> String {
    ask(|say| say.invoke_ride(ready_by.into(), mount.into(), instructor.into()))
}

/// Over the tack.
pub fn put_on() -> String {
    ask(|say| say.get_put_on())
}

/// Over the tack of a horse that is to be put away.
pub fn take_off() -> String {
    ask(|say| say.get_take_off())
}

/// No tack is written down for this ride.
pub fn no_tack() -> String {
    ask(|say| say.get_no_tack())
}

/// Over the stirrups.
pub fn stirrups() -> String {
    ask(|say| say.get_stirrups())
}

/// Left stirrup.
pub fn left() -> String {
    ask(|say| say.get_left())
}

/// Right stirrup.
pub fn right() -> String {
    ask(|say| say.get_right())
}

/// Whether left and right stirrup are of one length.
pub fn same_or_not(left: u8, right: u8) -> String {
    ask(|say| if left == right { say.get_the_same() } else { say.get_not_the_same() })
}

/// Over the handling notes.
pub fn handling() -> String {
    ask(|say| say.get_handling())
}

/// Back to the tack, where handling has a side of its own.
pub fn tack() -> String {
    ask(|say| say.get_tack())
}

/// No handling notes.
pub fn no_notes() -> String {
    ask(|say| say.get_no_notes())
}

/// Only experienced hands.
pub fn grade(grade: u8) -> Option<String> {
    match grade {
        0 | 1 => None,
        2 => Some(ask(|say| say.get_shown_hands())),
        _ => Some(ask(|say| say.get_experienced_hands())),
    }
}

/// Nothing left to do before the lesson.
pub fn all_done() -> String {
    ask(|say| say.get_all_done())
}

/// No ride today.
pub fn no_ride() -> String {
    ask(|say| say.get_no_ride())
}

/// No horse stands there.
pub fn no_horse() -> String {
    ask(|say| say.get_no_horse())
}

/// Back to the aisle.
pub fn back() -> String {
    ask(|say| say.get_go_back())
}
