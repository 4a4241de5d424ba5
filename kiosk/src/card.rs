//! A horse's card: what a groom needs at arm's length, and which step comes next; where it stands on the glass is [`frame`]'s.
//! Its other side, steps and handling, is [`pages::steps`](crate::pages::steps); both have the same buttons. Pure; it sends nothing.

pub mod frame;

use bellmare_barn::board::{
    AwayView, Board, HorseView, Job, Links, Pace, RideView, StallView, TackView, VitalsLine, WaterState, WaterView,
};
use bellmare_barn::book::WaterPlace;
use bellmare_barn::care::vitals::Urgency;
use bellmare_barn::id::StallId;
use bellmare_barn::input::{Action, Mark, Said, Step};
use bellmare_barn::language::Language;
use bellmare_barn::limits::DisplayUnits;

use crate::aisle::Tone;
use crate::aisle::frame::is_small;
use crate::aisle::stalls::{self, Cell};
use crate::app::Up;
use crate::check::{self, Sign};
use crate::pages::layout::Placed;
use crate::pages::{Does, Here, Item, back, hay, steps as steps_page, wrong};
use crate::sizes::Sizes;
use crate::words;
use frame::CardFrame;

/// A glass less wide has narrow buttons.
const NARROW_PX: f32 = 1000.0;

/// A piece of tack on the card.
#[derive(Clone, PartialEq, Debug)]
pub struct TackLine {
    /// Its turn.
    pub turn: String,
    /// What, and how.
    pub name: String,
    /// Font size of that: what is to be minded stands at its end, and is read to its end.
    pub px: f32,
    /// Where it hangs.
    pub place: String,
}

/// The card.
#[derive(Clone, PartialEq, Debug)]
pub struct Card {
    /// Where things stand.
    pub frame: CardFrame,
    /// The horse, or the stall where none stands in it.
    pub name: String,
    /// The stall.
    pub stall: String,
    /// When, and by whom taught; or that there is no ride.
    pub ride: String,
    /// The ride after, or why it can not go or staff are called.
    pub then: String,
    /// It is one of these reasons.
    pub reason: bool,
    /// Whether it is in time.
    pub pace: Tone,
    /// The pace's word; empty where it is in time.
    pub pace_word: String,
    /// Tack in the order it goes on.
    pub tack: Vec<TackLine>,
    /// Left and right, where stirrups are used.
    pub stirrups: Option<(u8, u8)>,
    /// Handling notes, one line each.
    pub notes: String,
    /// Who should not handle it alone.
    pub grade: String,
    /// Water in a sentence.
    pub water: String,
    /// The stall as the aisle draws it: its bucket and links.
    pub cell: Cell,
    /// How far it is, in words.
    pub state: String,
    /// True where the horse is back and its tack comes off.
    pub back: bool,
    /// What came of the last check of the horse, and how pressing that is; empty where nobody checked it today.
    pub checked: String,
    /// How pressing it is.
    pub checked_tone: Tone,
    /// The buttons.
    pub ways: Vec<Placed>,
}

/// Which side of a card is up.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub enum CardSide {
    /// Tack and stirrups.
    #[default]
    Tack,
    /// The steps of the job at hand, and handling.
    Steps,
}

/// Draws up the card of a stall, with its tack; none where the board has no such stall.
pub fn draw(here: &Here<'_>, stall: &StallId, sizes: &Sizes) -> Option<Card> {
    let (board, view) = (here.board, here.stall(stall)?);
    let units = board.units;
    let ride = ride(view);
    let horse = view.horse.as_ref();
    // A card also shows how far a horse is that can not go.
    let cell = Cell { links: ride.map(stalls::links), ..stalls::cell(board, view) };
    let (pace, pace_word) = pace(board, horse, ride);
    let reason = horse.and_then(|horse| reason(board, horse, ride));
    let back = ride.is_some_and(stalls::is_back);
    let notes = horse.map(|horse| steps_page::notes(horse, here.language).join("\n")).unwrap_or_default();
    let checked = horse.and_then(|horse| last_check(horse, units));
    let mut card = Card {
        frame: CardFrame::default(),
        name: horse.map_or_else(|| words::stall(view.id.as_str()), |horse| horse.name.clone()),
        stall: if horse.is_some() { words::stall(view.id.as_str()) } else { String::new() },
        ride: horse.map_or_else(words::no_horse, |horse| ride_line(board, horse)),
        then: String::new(),
        reason: reason.is_some(),
        pace,
        pace_word,
        tack: ride.map(|ride| tack(ride, here.language)).unwrap_or_default(),
        stirrups: ride.and_then(|ride| ride.stirrups).map(|stirrups| (stirrups.left, stirrups.right)),
        notes: if notes.is_empty() && horse.is_some() { words::no_notes() } else { notes },
        grade: horse.and_then(|horse| words::grade(horse.grade)).unwrap_or_default().to_owned(),
        water: short_water(view, units),
        state: ride.map(state).unwrap_or_default(),
        back,
        cell,
        checked_tone: checked.as_ref().map_or(Tone::Quiet, |(_, tone)| *tone),
        checked: checked.map(|(line, _)| line).unwrap_or_default(),
        ways: Vec::new(),
    };
    let then = reason.unwrap_or_else(|| horse.and_then(|horse| then(board, horse)).into_iter().collect());
    card.frame = frame::frame(&mut card, &then, &ways(here, view, CardSide::Tack, sizes), sizes);
    Some(card)
}

/// When a horse goes, and by whom it is taught; or that it does not.
pub fn ride_line(board: &Board, horse: &HorseView) -> String {
    let time = |at| words::time(at, board.units);
    match horse.rides.first() {
        Some(ride) if ride.off => words::no_ride(),
        Some(ride) => words::ride(&time(ride.ready_by), &time(ride.mount), &ride.instructor),
        None => words::no_ride(),
    }
}

/// The job that comes next: whose steps are shown.
pub fn job(horse: &HorseView) -> Job {
    match horse.rides.first().and_then(next).map(|(step, _)| step) {
        Some(Step::Tack) => Job::Tack,
        Some(Step::LeadOut) => Job::LeadOut,
        Some(Step::BringBack | Step::PutAway) => Job::PutAway,
        Some(Step::Brush) | None => Job::Brush,
    }
}

/// What keeps a horse from work, whatever its ride.
enum Keeps<'a> {
    /// Something is said to be wrong with it; whether the vet is called at once.
    Wrong(bool),
    /// It does no more work today.
    Scratched,
    Away(&'a AwayView),
}

fn keeps_from_work(horse: &HorseView) -> Option<Keeps<'_>> {
    let wrong = horse.wrong.as_ref().map(|report| Keeps::Wrong(report.vet_now));
    wrong.or(horse.scratched.then_some(Keeps::Scratched)).or(horse.away.as_ref().map(Keeps::Away))
}

/// What stands beside the name: whether it works at all, then whether it can go and is in time. Nobody is to hurry for a ride
/// that is given up.
fn pace(board: &Board, horse: Option<&HorseView>, ride: Option<&RideView>) -> (Tone, String) {
    let Some(horse) = horse else { return (Tone::Quiet, String::new()) };
    if let Some(keeps) = keeps_from_work(horse) {
        return match keeps {
            Keeps::Wrong(vet_now) => (if vet_now { Tone::Vet } else { Tone::Care }, words::wrong_short()),
            Keeps::Scratched => (Tone::Stop, words::scratched()),
            Keeps::Away(away) => (Tone::Unknown, words::away(&away.why, &words::time(away.until, board.units))),
        };
    }
    if ride.is_some_and(|ride| stalls::missed(board, ride).is_some()) {
        return (Tone::Late, words::can_not_go());
    }
    match ride.and_then(|ride| stalls::doing(ride).0.zip(Some(ride))) {
        Some((Pace::Late, _)) => (Tone::Late, words::late()),
        Some((Pace::Ready, _)) => (Tone::Ready, words::ready()),
        Some((Pace::Now, ride)) if stalls::is_back(ride) => (Tone::Now, words::back_from_ride()),
        Some((Pace::Now, _)) => (Tone::Now, String::new()),
        Some((Pace::Later, _)) | None => (Tone::Quiet, String::new()),
    }
}

/// The buttons of both sides: the work in the upper row, everything else in the lower one.
pub fn ways(here: &Here<'_>, view: &StallView, side: CardSide, sizes: &Sizes) -> Vec<Vec<Item>> {
    let Some(horse) = &view.horse else { return vec![vec![filled(view), cleaned(here, view), back()]] };
    let mut work = Vec::new();
    if let Some(ride) = ride(view) {
        let say = |step, mark| Does::Give(work_action(horse, ride, step, mark));
        if let Some((step, mark)) = next(ride) {
            if mark == Mark::Open {
                work.push(
                    Item::button(words::begin(step), say(step, Mark::Begun))
                        .below(takes(horse, step, sizes).unwrap_or_default()),
                );
            }
            let girth = if step == Step::PutAway { words::girth_done() } else { String::new() };
            let done = Item::button(words::done(step), say(step, Mark::Done)).below(girth);
            // Nothing is to be done for a ride that is given up; what was done all the same can be said.
            let goes = stalls::missed(here.board, ride).is_none();
            work.push(if goes { done.strong(Tone::Ready) } else { done });
        }
        if let Some(step) = last(ride) {
            work.push(Item::button(words::undo(), say(step, Mark::Open)).below(words::undo_what(step)));
        }
    }
    let (turned, (word, below)) = match side {
        CardSide::Tack => (CardSide::Steps, (words::steps(), words::and_handling())),
        CardSide::Steps => (CardSide::Tack, (words::tack_side(), words::and_stirrups())),
    };
    let turn = Item::button(word, Does::Open(Up::Card { stall: view.id.clone(), side: turned })).below(below);
    if side == CardSide::Steps && is_small(sizes) {
        // There is room for one row: what else there is stands on the other side.
        work.truncate(2);
        work.extend([wrong::button(here, &horse.id), turn, back()]);
        return vec![work];
    }
    work.push(back());
    let mut others = vec![wrong::button(here, &horse.id), hay::button(here, &horse.id)];
    match here.staff {
        Some(staff) => {
            let scratch = Action::Scratch { horse: horse.id.clone(), out: !horse.scratched, by: staff.clone() };
            let (word, below) = if horse.scratched {
                (words::after_all(), words::works_today())
            } else {
                (words::not_today(), words::no_more_work())
            };
            others.push(Item::button(word, Does::Give(scratch)).below(below));
            // The ride that it goes, or that it does not go any more.
            let ride = ride(view).map(|ride| &ride.id).or(horse.open_rides.first().map(|open| &open.id));
            if let Some(ride) = ride {
                let page = Does::Open(Up::StandIns { ride: ride.clone() });
                others.push(Item::button(words::stand_ins(), page).below(words::who_could_go()));
            }
        }
        None => others.extend([filled(view), cleaned(here, view)]),
    }
    others.push(turn);
    let check = Up::Check { stall: view.id.clone(), sign: Sign::default() };
    let (word, below) = words::check_short();
    let mut check = Item::button(word, Does::Open(check)).below(below);
    check.label = words::check();
    others.push(check);
    vec![work, others]
}

fn filled(view: &StallView) -> Item {
    let place = WaterPlace::Stall(view.id.clone());
    match view.filled.as_ref().filter(|done| done.can_undo) {
        Some(_) => Item::button(words::filled(), Does::Give(Action::Filled { place, undo: true }))
            .below(words::not_so())
            .strong(Tone::Ready),
        None => {
            Item::button(words::filled(), Does::Give(Action::Filled { place, undo: false })).below(words::the_bucket())
        }
    }
}

fn cleaned(here: &Here<'_>, view: &StallView) -> Item {
    let act = |undo| Does::Give(Action::Cleaned { stall: view.id.clone(), undo });
    match &view.cleaned {
        Some(done) if done.can_undo => {
            Item::button(words::cleaned(), act(true)).below(words::not_so()).strong(Tone::Ready)
        }
        // Cleaned earlier today: it can be cleaned again. Full green is for what is to be touched next, or was just touched.
        Some(done) => Item::button(words::cleaned(), act(false)).below(words::done_by(done, here.board.units)),
        None => Item::button(words::cleaned(), act(false)).below(words::the_stall()),
    }
}

fn work_action(horse: &HorseView, ride: &RideView, step: Step, mark: Mark) -> Action {
    Action::Work(Said { ride: ride.id.clone(), horse: horse.id.clone(), step, mark, by: None })
}

/// The same in as few words as stand beside the bucket: the rest is on the other side and in the plot.
fn short_water(stall: &StallView, units: DisplayUnits) -> String {
    let whole = water(stall, units);
    match whole.split_once('\n') {
        Some((there, _)) if there.chars().count() > 24 => there.to_owned(),
        _ => whole,
    }
}

/// How much there is to drink and till when it lasts, and how much was drunk.
pub fn water(stall: &StallView, units: DisplayUnits) -> String {
    let mut there = words::bucket_whole(&stall.water, units);
    let Some(drinking) = &stall.drinking else { return there };
    let enough = matches!(stall.water, WaterView::Known { state: WaterState::Enough, .. });
    if let Some(dry) = drinking.runs_dry.filter(|_| enough) {
        there = format!("{there}, {}", words::may_be_gone(dry.earliest, units));
    }
    format!("{there}\n{}", words::drank(drinking, units))
}

/// What came of the last check, with the first of what differs: the rest is for who is called.
fn last_check(horse: &HorseView, units: DisplayUnits) -> Option<(String, Tone)> {
    let last: &VitalsLine = horse.vitals.as_ref()?.last.first()?;
    let tone = match last.urgency {
        Urgency::Fine => Tone::Ready,
        Urgency::Tell => Tone::Care,
        Urgency::VetNow => Tone::Vet,
    };
    let checked = words::checked(last.urgency, &last.by, last.ago_min);
    let line = match last.about.iter().find_map(|about| check::found(*about, &last.seen, units)) {
        Some(found) => format!("{checked}. {found}"),
        None => checked,
    };
    Some((line, tone))
}

/// The same as a line of a page.
pub fn last_check_line(horse: &HorseView, units: DisplayUnits) -> Option<Item> {
    let (line, tone) = last_check(horse, units)?;
    Some(Item { strong: true, ..Item::line(line).tone(tone) })
}

/// How long a step is taken to last.
fn takes(horse: &HorseView, step: Step, sizes: &Sizes) -> Option<String> {
    let job = match step {
        Step::Brush => Job::Brush,
        Step::Tack => Job::Tack,
        Step::PutAway => Job::PutAway,
        Step::LeadOut | Step::BringBack => return None,
    };
    let time = horse.minutes.iter().find(|time| time.job == job)?;
    // On how many times it rests has no room on a narrow button.
    let times = if sizes.panel.width_px < NARROW_PX { 0 } else { time.times };
    Some(words::takes(time.minutes, times))
}

/// Why the horse can not go, that another one has to, or why staff are called before its ride or after it; from all of it to the
/// least that can be said. That it can not go is not said once more where it stands beside its name.
fn reason(board: &Board, horse: &HorseView, ride: Option<&RideView>) -> Option<Vec<String>> {
    if !horse.open_rides.is_empty() {
        return Some(vec![words::open_rides(&horse.open_rides, board.units)]);
    }
    let ride = ride?;
    if let Some(missed) = stalls::missed(board, ride) {
        let why = words::missed(missed, board.units);
        let beside = keeps_from_work(horse).is_none();
        return Some(if beside { why } else { why.iter().map(|why| words::can_not_go_why(why)).collect() });
    }
    // Of a horse that is out it does not matter yet who puts it away, nor of one that is back who tacked it.
    let back = job(horse) == Job::PutAway;
    let calls = board.next.iter().filter(|next| next.horse == horse.id && (next.job == Job::PutAway) == back);
    let hands = calls.filter_map(|next| next.because.as_ref()).next()?;
    Some(words::staff_called(hands, board.units))
}

/// When the horse goes again.
fn then(board: &Board, horse: &HorseView) -> Option<String> {
    horse.rides.get(1).map(|next| words::then(&words::time(next.mount, board.units)))
}

fn ride(view: &StallView) -> Option<&RideView> {
    view.horse.as_ref().and_then(|horse| horse.rides.first())
}

/// The steps of a ride; a horse that goes on under the same tack is not put away after it.
fn steps(ride: &RideView) -> Vec<(Step, Mark)> {
    let Links { brush, tack, lead_out, bring_back, put_away } = ride.links;
    let mut steps =
        vec![(Step::Brush, brush), (Step::Tack, tack), (Step::LeadOut, lead_out), (Step::BringBack, bring_back)];
    if ride.last {
        steps.push((Step::PutAway, put_away));
    }
    steps
}

fn next(ride: &RideView) -> Option<(Step, Mark)> {
    let open = |&(step, mark): &(Step, Mark)| mark != Mark::Done && (step == Step::PutAway || !ride.off);
    steps(ride).into_iter().find(open)
}

fn last(ride: &RideView) -> Option<Step> {
    steps(ride).into_iter().rev().find(|(_, mark)| *mark != Mark::Open).map(|(step, _)| step)
}

fn state(ride: &RideView) -> String {
    match steps(ride).into_iter().rev().find(|(_, mark)| *mark != Mark::Open) {
        Some((step, Mark::Begun)) => words::begun(step),
        Some((step, _)) => words::is_done(step),
        None => words::not_begun(),
    }
}

fn tack(ride: &RideView, language: Language) -> Vec<TackLine> {
    let line = |(at, tack): (usize, &TackView)| {
        let name = match language.of(&tack.note, &tack.note_spanish) {
            "" => tack.name.clone(),
            note => format!("{}, {note}", tack.name),
        };
        TackLine { turn: (at + 1).to_string(), name, px: 0.0, place: tack.place.clone() }
    };
    ride.tack.iter().enumerate().map(line).collect()
}
