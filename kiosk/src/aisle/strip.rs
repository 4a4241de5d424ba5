//! What is said across the whole width: alarms, lines that are down, a clock that nobody set, badges that nobody knows,
//! and a hub that does not answer. It decides their order and words, not their looks.

use bellmare_barn::board::{AlarmLine, AlarmWhat, Board, Clock, LineView, PeopleBand};
use bellmare_barn::limits::DisplayUnits;

use super::frame::{Rect, Type};
use super::{Tone, heat};
use crate::sizes::Sizes;
use crate::text::{self, LINE, Weight};
use crate::words;

/// For how long an unknown badge is shown, in seconds.
const TAP_SHOWN_S: u32 = 60;

/// One notice.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Notice {
    /// Where it stands.
    pub rect: Rect,
    /// How pressing.
    pub tone: Tone,
    /// What, to be read from the aisle.
    pub text: String,
    /// For how long.
    pub age: String,
    /// What became of it, or what to do.
    pub state: String,
    /// Which of how many, where there are several.
    pub count: String,
    /// True where age and state stand under the text.
    pub below: bool,
    /// The alarm to acknowledge by a touch, where it is one.
    pub alarm: Option<u64>,
    /// Everything in one sentence.
    pub label: String,
}

impl Notice {
    fn new(tone: Tone, text: String, age: String, state: String, alarm: Option<u64>) -> Self {
        let parts = [text.as_str(), age.as_str(), state.as_str()];
        let label = parts.iter().filter(|part| !part.is_empty()).copied().collect::<Vec<_>>().join(", ");
        Self { tone, text, age, state, alarm, label, ..Self::default() }
    }

    /// The notice as a line of text.
    pub fn as_text(&self) -> String {
        let count = if self.count.is_empty() { String::new() } else { format!(" ({})", self.count) };
        format!("!! [{:?}] {}{count}", self.tone, self.label)
    }
}

/// The hub does not answer: the picture that stays says its age.
pub fn silent(for_s: u64, clock: Clock, units: DisplayUnits) -> Notice {
    let picture = match clock {
        Clock::Set { time, .. } => words::picture_of(&words::time(time, units)),
        Clock::Unset => words::old_picture(),
    };
    Notice::new(Tone::Unknown, words::hub_silent(for_s), picture, String::new(), None)
}

/// Everything that takes turns in the strip, most pressing first.
pub fn notices(board: &Board) -> Vec<Notice> {
    let mut notices: Vec<Notice> = board.alarms.iter().map(|line| alarm(line, board.units)).collect();
    let raised = |what: &AlarmWhat| board.alarms.iter().any(|alarm| alarm.what == *what);
    notices.extend(
        line(&board.hub.broker, words::broker_down, words::broker_starting).filter(|_| !raised(&AlarmWhat::BrokerDown)),
    );
    notices.extend(
        line(&board.hub.journal, words::journal_down, words::journal_starting)
            .filter(|_| !raised(&AlarmWhat::JournalDown)),
    );
    if board.clock == Clock::Unset {
        notices.push(Notice::new(Tone::Unknown, words::clock_unset(), String::new(), String::new(), None));
    }
    notices.extend(board.taps.iter().filter(|tap| tap.ago_s <= TAP_SHOWN_S).map(|tap| {
        let (text, ago) = (words::unknown_badge(tap.badge.as_str()), words::unknown_badge_ago(tap.ago_s));
        Notice::new(Tone::Unknown, text, ago, String::new(), None)
    }));
    notices
}

/// How the notices stand across the glass: alike for all that take turns, so that nothing below them moves.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Stands {
    /// How many lines the longest takes, 2 at most; 0 where there is none.
    pub lines: usize,
    /// True where age and state stand under the text, and not at its right.
    pub below: bool,
}

/// How they stand at these sizes: age and state are under the text on a narrow glass, and where that costs no height because a
/// strip that can be touched is as high anyway.
pub fn stands(notices: &[Notice], types: &Type, sizes: &Sizes) -> Stands {
    let most = |below: bool| {
        let lines = notices.iter().map(|notice| {
            let room = text_room(notice, below, types, sizes);
            broken(&notice.text, room, types.far).len()
        });
        lines.max().unwrap_or(0)
    };
    let narrow = sizes.panel.width_px < types.far * 16.0;
    let free = sizes.touch() > types.far * LINE + types.small * BELOW && most(true) <= 1;
    let below = narrow || free || most(false) > 2;
    Stands { lines: most(below).min(2), below }
}

/// Kerning and rounding of the renderer may take so much more than the letters by themselves.
const SET_WIDER: f32 = 1.03;

/// The lines of a notice in a room so wide.
pub fn broken(text: &str, room_px: f32, font_px: f32) -> Vec<String> {
    text::broken(text, room_px, font_px * SET_WIDER, Weight::Bold)
}

/// Width left for the notice's text beside its shape and its age.
pub fn text_room(notice: &Notice, below: bool, types: &Type, sizes: &Sizes) -> f32 {
    let side = if below { 0.0 } else { side_width(notice, types) + types.small * 0.4 };
    sizes.panel.width_px - types.far * 1.9 - side
}

/// Height of age and state under the text, as a share of the small font.
pub const BELOW: f32 = 1.7;

/// Width of what stands at the right end.
pub fn side_width(notice: &Notice, types: &Type) -> f32 {
    // The count may stand before the age on the same line.
    let age = format!("{} · {}", words::of(9, 9), notice.age);
    let width = |text: &str| text::width(text, types.small * SET_WIDER, Weight::SemiBold);
    width(&age).max(width(&notice.state))
}

fn alarm(alarm: &AlarmLine, units: DisplayUnits) -> Notice {
    let tone = if alarm.over { Tone::Ready } else { raised(&alarm.what) };
    let (text, age) = (words::alarm(&alarm.what, units), words::for_minutes(alarm.for_min));
    Notice::new(tone, text, age, words::alarm_state(alarm), Some(alarm.id))
}

/// The shape of what is wrong: the same here as where the thing itself stands, so that no shape means two things.
pub fn raised(what: &AlarmWhat) -> Tone {
    match what {
        AlarmWhat::BucketEmpty { .. } | AlarmWhat::TroughEmpty { .. } => Tone::Alarm,
        AlarmWhat::NotDrinking { .. } | AlarmWhat::DrinksLittle { .. } | AlarmWhat::DrinksMuch { .. } => Tone::Care,
        AlarmWhat::Ice { .. } => Tone::Cold,
        AlarmWhat::BucketLow { .. } | AlarmWhat::TroughLow { .. } | AlarmWhat::Leak { .. } => Tone::Low,
        AlarmWhat::SensorFaulty { .. } => Tone::Unknown,
        AlarmWhat::Heat { band, .. } => heat::tone(*band),
        AlarmWhat::PeopleHeat { band: PeopleBand::ExtremeDanger, .. } => Tone::Stop,
        AlarmWhat::PeopleHeat { .. } => Tone::Critical,
        AlarmWhat::HeatAhead { band, .. } => heat::tone(*band),
        AlarmWhat::Frost { .. } => Tone::Cold,
        AlarmWhat::SensorSilent { .. } | AlarmWhat::ClimateDoubtful { .. } => Tone::Unknown,
        AlarmWhat::BatteryLow { .. } => Tone::Battery,
        AlarmWhat::HayUnanswered { .. } => Tone::Now,
        AlarmWhat::VitalsCaution { vet_now, .. } | AlarmWhat::Wrong { vet_now, .. } => {
            if *vet_now {
                Tone::Vet
            } else {
                Tone::Care
            }
        }
        AlarmWhat::ManySilent { .. } => Tone::Unknown,
        AlarmWhat::LateHorses { .. } | AlarmWhat::NobodyFor { .. } => Tone::Now,
        AlarmWhat::NoHorse { .. } | AlarmWhat::NobodyHere { .. } => Tone::Now,
        AlarmWhat::ClockUnset | AlarmWhat::DiskNearlyFull { .. } => Tone::Fault,
        AlarmWhat::BrokerDown | AlarmWhat::JournalDown => Tone::Fault,
    }
}

fn line(line: &LineView, down: fn() -> String, starting: fn() -> String) -> Option<Notice> {
    match line {
        LineView::Up => None,
        LineView::Starting => Some(Notice::new(Tone::Unknown, starting(), String::new(), String::new(), None)),
        LineView::Down { for_min, why } => {
            Some(Notice::new(Tone::Fault, down(), words::for_minutes(*for_min), why.chars().take(28).collect(), None))
        }
    }
}
