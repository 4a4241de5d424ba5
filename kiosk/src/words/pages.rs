//! What pages at arm's length have in common, a person's own page, the steps of a job, the plots.

use bellmare_barn::board::Job;
use bellmare_barn::language::Language;
use bellmare_barn::limits::DisplayUnits;
use slint::{ComponentHandle, SharedString};

use crate::ui::SayPages;

fn ask(word: impl FnOnce(SayPages<'_>) -> SharedString) -> String {
    super::ask(|app| word(app.global()))
}

/// To a further page.
pub fn more_pages() -> String {
    ask(|say| say.get_more_pages())
}

/// Back to the horse's card.
pub fn to_card() -> String {
    ask(|say| say.get_to_card())
}

/// How many are in the barn.
pub fn in_the_barn(count: usize) -> String {
    ask(|say| say.invoke_in_the_barn(count.to_string().into()))
}

/// Who is not on that list.
pub fn not_counted() -> String {
    ask(|say| say.get_not_counted())
}

/// Over those who are not here.
pub fn touch_to_sign_in() -> String {
    ask(|say| say.get_touch_to_sign_in())
}

/// Signs somebody out.
pub fn out() -> String {
    ask(|say| say.get_out())
}

/// Starts a minute in which touches do nothing.
pub fn wipe() -> String {
    ask(|say| say.get_wipe())
}

/// What is wiped.
pub fn the_screen() -> String {
    ask(|say| say.get_the_screen())
}

/// Signs somebody in.
pub fn sign_in() -> String {
    ask(|say| say.get_sign_in())
}

/// Signs out who stands here.
pub fn sign_out() -> String {
    ask(|say| say.get_sign_out())
}

/// Somebody has tapped out.
pub fn signed_out(name: &str) -> String {
    ask(|say| say.invoke_signed_out(name.into()))
}

/// Over a person's jobs.
pub fn your_horses() -> String {
    ask(|say| say.get_your_horses())
}

/// Over a person's chores.
pub fn your_chores() -> String {
    ask(|say| say.get_your_chores())
}

/// There is none.
pub fn no_job() -> String {
    ask(|say| say.get_no_job())
}

/// The other side of the card.
pub fn steps() -> String {
    ask(|say| say.get_steps())
}

/// What else is on it.
pub fn and_handling() -> String {
    ask(|say| say.get_and_handling())
}

/// The other side of the card.
pub fn tack_side() -> String {
    ask(|say| say.get_tack_side())
}

/// What else is on it.
pub fn and_stirrups() -> String {
    ask(|say| say.get_and_stirrups())
}

/// No steps are written.
pub fn no_steps() -> String {
    ask(|say| say.get_no_steps())
}

/// What is done with putting away.
pub fn girth_done() -> String {
    ask(|say| say.get_girth_done())
}

/// Until when a horse is away.
pub fn away_till(time: &str) -> String {
    ask(|say| say.invoke_away_till(time.into()))
}

/// Over what a horse drinks.
pub fn water_title() -> String {
    ask(|say| say.get_water_title())
}

/// Over the plots of a horse's water.
pub fn water_of(horse: &str) -> String {
    ask(|say| say.invoke_water_of(horse.into()))
}

/// Over the day's columns.
pub fn water_today(much: &str) -> String {
    ask(|say| say.invoke_water_today(much.into()))
}

/// Over the days.
pub fn water_days() -> String {
    ask(|say| say.get_water_days())
}

/// The line of its habit.
pub fn usually(much: &str) -> String {
    ask(|say| say.invoke_usually(much.into()))
}

/// The last column.
pub fn today() -> String {
    ask(|say| say.get_today())
}

/// A column of so many days ago.
pub fn days_ago(days: usize) -> String {
    ask(|say| say.invoke_days_ago(days.to_string().into()))
}

/// Too little is known.
pub fn too_little_known() -> String {
    ask(|say| say.get_too_little_known())
}

/// Over the heat of today.
pub fn heat_today() -> String {
    ask(|say| say.get_heat_today())
}

/// The way to the heat of today.
pub fn heat_way() -> String {
    ask(|say| say.get_heat_way())
}

/// What the shapes mean.
pub fn heat_key() -> String {
    ask(|say| say.get_heat_key())
}

/// What the marks under the axis are.
pub fn lessons_below() -> String {
    ask(|say| say.get_lessons_below())
}

/// An hour before noon.
pub fn am(hour: u16) -> String {
    ask(|say| say.invoke_am(hour.to_string().into()))
}

/// An hour after noon.
pub fn pm(hour: u16) -> String {
    ask(|say| say.invoke_pm(hour.to_string().into()))
}

/// The language that is not chosen, named in itself: that is not translated.
pub fn other_language(language: Language) -> &'static str {
    match language {
        Language::English => "Español",
        Language::Spanish => "English",
    }
}

/// Over the steps of a job.
pub fn job_title(job: Job) -> String {
    ask(|say| match job {
        Job::Brush => say.get_job_brush(),
        Job::Tack => say.get_job_tack(),
        Job::LeadOut => say.get_job_lead_out(),
        Job::PutAway => say.get_job_put_away(),
    })
}

/// An hour of the day under a plot.
pub fn hour_of_day(hour: u16, units: DisplayUnits) -> String {
    match (units, hour) {
        (DisplayUnits::Metric, _) => format!("{hour}:00"),
        (DisplayUnits::UsCustomary, 0) => am(12),
        (DisplayUnits::UsCustomary, 12) => ask(|say| say.get_noon()),
        (DisplayUnits::UsCustomary, 1..12) => am(hour),
        (DisplayUnits::UsCustomary, _) => pm(hour - 12),
    }
}

/// Several things in one line.
pub fn together(parts: &[&str]) -> String {
    parts.iter().filter(|part| !part.is_empty()).copied().collect::<Vec<_>>().join(" · ")
}
