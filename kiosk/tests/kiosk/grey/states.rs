//! Pairs of states that a screen tells apart, each drawn in its own place: stalls, jobs, heat, alarms, lessons, chores, water to
//! fill, hay, horses in the barn's lists, keys and buttons.

use bellmare_barn::board::{
    AlarmLine, AlarmWhat, Board, DoneView, HayAnswerView, HeatBand, HeatView, Links, MissedView, Pace, PeopleBand,
    RideView, StallView, WaterState, WaterView, WhyFill, WrongView,
};
use bellmare_barn::care::seen::Seen;
use bellmare_barn::input::{Mark, Sensor};
use bellmare_barn::language::Language;
use bellmare_barn::time::TimeOfDay;
use bellmare_barn::water::bucket::Fault;
use bellmare_kiosk::aisle::frame::Rect;
use bellmare_kiosk::aisle::{Scene, View, picture};
use bellmare_kiosk::app::{Settings, Up, sizes};
use bellmare_kiosk::card::CardSide;
use bellmare_kiosk::check::Sign;
use bellmare_kiosk::pages::layout::lay_out;
use bellmare_kiosk::pages::round::Part;
use bellmare_kiosk::pages::{self, Here};
use bellmare_kiosk::ui::{ColumnRow, Plot, Tone};
use slint::{ComponentHandle, ModelRc, VecModel};

use super::{ALL, AT_ARMS_LENGTH, Crop, Glass, all_apart, in_each_light};
use crate::samples;

const LARGE: (u32, u32) = (1920, 1080);
const SMALL: (u32, u32) = (800, 480);

/// A state by its name, and what makes it of a board.
type State = (&'static str, fn(&mut Board));

fn scene(board: &Board, glass: &Glass) -> Scene {
    let size = glass.kiosk.app().window().size();
    let sizes = sizes(&Settings::default(), size.width as f32, size.height as f32);
    picture(&View { board, sizes, aisle: None, turn: 0, silent_s: None, language: Language::English })
}

/// Draws each state of the aisle and takes the piece that `place` names.
fn aisle(glass: &Glass, what: &str, states: &[State], place: fn(&Scene) -> Rect) {
    let crops: Vec<_> = states
        .iter()
        .map(|(name, make)| {
            let mut board = samples::board("morning");
            make(&mut board);
            let rect = place(&scene(&board, glass));
            glass.kiosk.hear(board);
            ((*name).to_owned(), Crop::of(&glass.draw(Up::Aisle), rect))
        })
        .collect();
    all_apart(what, glass.light, &crops);
}

/// Draws each state of a page and takes the item that is the first whose label begins so.
fn page(glass: &Glass, what: &str, up: &Up, label: &str, states: &[State]) {
    let crops: Vec<_> = states
        .iter()
        .map(|(name, make)| {
            let mut board = samples::board("whole");
            make(&mut board);
            let rect = item(&board, glass, up, label).unwrap_or_else(|| panic!("{what}, {name}: {label} is not there"));
            glass.kiosk.hear(board);
            ((*name).to_owned(), Crop::of(&glass.draw(up.clone()), rect))
        })
        .collect();
    all_apart(what, glass.light, &crops);
}

fn item(board: &Board, glass: &Glass, up: &Up, label: &str) -> Option<Rect> {
    let here = Here::nobody(board, Language::English);
    let sizes = glass.kiosk.sizes();
    let laid = lay_out(&pages::sheet(up, &here, &sizes)?, &sizes, 0);
    let found = laid.placed.into_iter().find(|placed| placed.item.label().starts_with(label))?;
    Some(found.rect)
}

fn third(board: &mut Board) -> &mut StallView {
    board.stalls.iter_mut().find(|stall| stall.id.as_str() == "3").expect("stall 3")
}

fn ride(board: &mut Board) -> &mut RideView {
    &mut third(board).horse.as_mut().expect("a horse").rides[0]
}

fn idle(board: &mut Board) {
    third(board).horse.as_mut().expect("a horse").rides.clear();
}

fn water(board: &mut Board, state: WaterState, percent: f64) {
    idle(board);
    third(board).water = WaterView::Known { litres: percent / 5.0, percent, state, for_min: 12 };
}

fn at_work(board: &mut Board, pace: Pace, links: [Mark; 5]) {
    let [brush, tack, lead_out, bring_back, put_away] = links;
    let ride = ride(board);
    ride.pace = pace;
    ride.last = true;
    ride.links = Links { brush, tack, lead_out, bring_back, put_away };
}

const O: Mark = Mark::Open;
const B: Mark = Mark::Begun;
const D: Mark = Mark::Done;

fn wronged(board: &mut Board, vet_now: bool) {
    let seen = if vet_now { vec![Seen::ALL[0]] } else { vec![] };
    third(board).horse.as_mut().expect("a horse").wrong =
        Some(WrongView { seen, by: None, ago_min: 3, vet_now, taken_by: None, can_undo: false });
}

const STALLS: &[State] = &[
    ("enough", |board| water(board, WaterState::Enough, 70.0)),
    ("half", |board| water(board, WaterState::Enough, 45.0)),
    ("low", |board| water(board, WaterState::Low, 20.0)),
    ("empty", |board| water(board, WaterState::Empty, 0.0)),
    ("never heard", |board| unknown(board, WaterView::NeverHeard)),
    ("silent", |board| unknown(board, WaterView::Silent { last_percent: 60.0, for_min: 42 })),
    ("faulty", |board| unknown(board, WaterView::Faulty { for_min: 42, fault: Some(Fault::Stuck) })),
    ("no bucket", |board| unknown(board, WaterView::NoBucket)),
    ("later", |board| at_work(board, Pace::Later, [O, O, O, O, O])),
    ("later, being brushed", |board| at_work(board, Pace::Later, [B, O, O, O, O])),
    ("later, brushed", |board| at_work(board, Pace::Later, [D, O, O, O, O])),
    ("later, being tacked", |board| at_work(board, Pace::Later, [D, B, O, O, O])),
    ("brush now", |board| at_work(board, Pace::Now, [O, O, O, O, O])),
    ("tack up now", |board| at_work(board, Pace::Now, [D, O, O, O, O])),
    ("lead out now", |board| at_work(board, Pace::Now, [D, D, O, O, O])),
    ("late", |board| at_work(board, Pace::Late, [O, O, O, O, O])),
    ("ready", |board| at_work(board, Pace::Ready, [D, D, O, O, O])),
    ("out", |board| at_work(board, Pace::Later, [D, D, D, O, O])),
    ("back", |board| at_work(board, Pace::Now, [D, D, D, D, O])),
    ("rests", |board| {
        idle(board);
        third(board).horse.as_mut().expect("a horse").scratched = true;
    }),
    ("is not itself", |board| wronged(board, false)),
    ("the vet is called", |board| wronged(board, true)),
];

fn unknown(board: &mut Board, view: WaterView) {
    idle(board);
    third(board).water = view;
}

fn stall_three(scene: &Scene) -> Rect {
    scene.cells.iter().find(|cell| cell.id == "3").expect("stall 3").rect
}

#[test]
fn stalls_in_the_aisle() {
    in_each_light(&ALL, LARGE, |glass| aisle(glass, "a stall", STALLS, stall_three));
}

#[test]
fn jobs_in_the_aisle() {
    const JOBS: &[State] = &[
        ("in time", |board| first_job(board, Pace::Now)),
        ("late", |board| first_job(board, Pace::Late)),
        ("ready", |board| first_job(board, Pace::Ready)),
        ("can not go", |board| {
            first_job(board, Pace::Now);
            let job = board.next[0].clone();
            let why = "no tack".to_owned();
            let missed = MissedView {
                ride: job.ride,
                horse: job.horse,
                name: job.name,
                stall: job.stall,
                mount: job.done_by,
                why,
                because: None,
            };
            board.missed = vec![missed];
        }),
    ];
    in_each_light(&ALL, LARGE, |glass| aisle(glass, "a job", JOBS, |scene| scene.work.rects[0]));
}

fn first_job(board: &mut Board, pace: Pace) {
    board.next.truncate(1);
    board.next[0].pace = pace;
}

#[test]
fn bands_of_heat() {
    const BANDS: &[State] = &[
        ("carry on", |board| band(board, HeatBand::CarryOn)),
        ("watch", |board| band(board, HeatBand::Watch)),
        ("critical", |board| band(board, HeatBand::Critical)),
        ("stop", |board| band(board, HeatBand::Stop)),
        ("not known", |board| board.heat = HeatView::Unknown { for_min: Some(20) }),
    ];
    // Where the box is as wide for all of them, by its right end.
    in_each_light(&ALL, LARGE, |glass| {
        aisle(glass, "heat", BANDS, |scene| {
            let heat = scene.frame.heat;
            Rect::new(heat.x, heat.y, 220.0, heat.h)
        });
    });
}

fn band(board: &mut Board, to: HeatBand) {
    if let HeatView::Known { band, humid, dry, advice, ahead, .. } = &mut board.heat {
        (*band, *humid, *dry, *ahead) = (to, false, false, None);
        advice.clear();
    }
}

#[test]
fn lessons_on_their_line() {
    fn ready(board: &mut Board, ready: u32, hour: u16) {
        board.lessons.truncate(2);
        for lesson in &mut board.lessons {
            lesson.horses = 4;
            lesson.ready = ready;
        }
        if let bellmare_barn::board::Clock::Set { time, .. } = &mut board.clock {
            *time = TimeOfDay::new(hour, 0).expect("a time");
        }
    }
    const LESSONS: &[State] = &[
        ("none ready", |board| ready(board, 0, 9)),
        ("some ready", |board| ready(board, 2, 9)),
        ("all ready", |board| ready(board, 4, 9)),
        ("at work", |board| ready(board, 4, 10)),
        ("over", |board| ready(board, 4, 12)),
    ];
    in_each_light(&ALL, LARGE, |glass| aisle(glass, "lessons", LESSONS, |scene| scene.frame.timeline));
}

#[test]
fn chores_left_late_and_hay_on_their_button() {
    fn chores(board: &mut Board, late: bool) {
        let chores = samples::board("whole").chores;
        board.chores = chores
            .into_iter()
            .take(3)
            .map(|chore| bellmare_barn::board::ChoreView { late, done: None, ..chore })
            .collect();
        board.hay.clear();
    }
    const ROUNDS: &[State] = &[
        ("nothing left", |board| {
            board.chores.clear();
            board.hay.clear();
        }),
        ("some left", |board| chores(board, false)),
        ("some late", |board| chores(board, true)),
        ("hay is asked for", |board| {
            chores(board, false);
            board.hay = samples::board("whole").hay;
            board.hay.iter_mut().for_each(|question| question.answer = None);
        }),
    ];
    in_each_light(&ALL, LARGE, |glass| aisle(glass, "the rounds", ROUNDS, |scene| scene.frame.round));
}

/// Every kind of alarm.
fn alarms() -> Vec<AlarmWhat> {
    let sensor = || Sensor::Water("7".into());
    let horse = || "Bramble".to_owned();
    let heat = |band| AlarmWhat::Heat { place: "arena".into(), band };
    let people = |band| AlarmWhat::PeopleHeat { place: "arena".into(), band };
    let vitals =
        |vet_now| AlarmWhat::VitalsCaution { horse: horse(), stall: "7".into(), vet_now, cautions: Vec::new() };
    vec![
        AlarmWhat::BucketEmpty { stall: "7".into(), horse: Some(horse()) },
        AlarmWhat::BucketLow { stall: "7".into(), horse: Some(horse()) },
        AlarmWhat::TroughEmpty { paddock: "north".into() },
        AlarmWhat::TroughLow { paddock: "north".into() },
        AlarmWhat::Leak { sensor: sensor(), litres_per_hour: 1.4 },
        AlarmWhat::Ice { stall: "7".into(), horse: horse() },
        AlarmWhat::NotDrinking { stall: "7".into(), horse: horse(), hours: 9 },
        AlarmWhat::DrinksLittle { stall: "7".into(), horse: horse(), litres: 9.0, usual: 31.0 },
        AlarmWhat::DrinksMuch { stall: "7".into(), horse: horse(), litres: 80.0, usual: 31.0 },
        AlarmWhat::SensorFaulty { sensor: sensor(), fault: Fault::Stuck },
        AlarmWhat::SensorSilent { sensor: sensor() },
        AlarmWhat::ManySilent { sensors: 12 },
        AlarmWhat::BatteryLow { sensor: sensor() },
        AlarmWhat::ClimateDoubtful { places: vec!["arena".into()], of: 3 },
        AlarmWhat::ClimateDoubtful { places: vec!["arena".into(), "aisle".into()], of: 2 },
        heat(HeatBand::Watch),
        heat(HeatBand::Critical),
        heat(HeatBand::Stop),
        people(PeopleBand::Danger),
        people(PeopleBand::ExtremeDanger),
        AlarmWhat::Frost { place: "aisle".into(), from: None },
        vitals(true),
        vitals(false),
        AlarmWhat::HayUnanswered { horse: horse(), stall: "7".into() },
        AlarmWhat::NoHorse { horse: horse(), stall: "7".into(), lessons: vec![TimeOfDay::new(9, 0).expect("a time")] },
        AlarmWhat::ClockUnset,
        AlarmWhat::BrokerDown,
        AlarmWhat::JournalDown,
    ]
}

#[test]
fn alarms_across_the_top_and_on_their_page() {
    in_each_light(&ALL, LARGE, |glass| {
        let line = samples::board("trouble").alarms.into_iter().find(|alarm| !alarm.over).expect("one that stands");
        let (mut across, mut pages) = (Vec::new(), Vec::new());
        let mut draw = |name: String, line: AlarmLine| {
            let mut board = samples::board("morning");
            board.alarms = vec![line];
            let rect = scene(&board, glass).strips[0].rect;
            glass.kiosk.hear(board);
            across.push((name.clone(), Crop::of(&glass.draw(Up::Aisle), Rect { h: 100.0, ..rect })));
            if glass.light != super::Light::Dim {
                pages.push((name, Crop::of(&glass.draw(Up::Alarm { alarm: 1 }), Rect::new(0.0, 0.0, 1920.0, 160.0))));
            }
        };
        for what in alarms() {
            draw(format!("{what:?}"), AlarmLine { id: 1, what, seen_by: None, over: false, ..line.clone() });
        }
        let empty = AlarmWhat::BucketEmpty { stall: "7".into(), horse: Some("Bramble".to_owned()) };
        let seen = Some("Lena".to_owned());
        draw("seen".to_owned(), AlarmLine { id: 1, what: empty.clone(), seen_by: seen, over: false, ..line.clone() });
        draw("over".to_owned(), AlarmLine { id: 1, what: empty, seen_by: None, over: true, ..line.clone() });
        all_apart("an alarm across the top", glass.light, &across);
        all_apart("an alarm's page", glass.light, &pages);
    });
}

fn done(can_undo: bool) -> Option<DoneView> {
    Some(DoneView { by: Some("Ana".to_owned()), at: TimeOfDay::new(9, 0)?, can_undo })
}

#[test]
fn chores() {
    fn first(board: &mut Board, late: bool, done: Option<DoneView>) {
        board.chores.truncate(1);
        board.chores[0].name.english = "Sweep".to_owned();
        (board.chores[0].late, board.chores[0].done) = (late, done);
    }
    const CHORES: &[State] = &[
        ("open", |board| first(board, false, None)),
        ("late", |board| first(board, true, None)),
        ("done, can be taken back", |board| first(board, false, done(true))),
        ("done for good", |board| first(board, false, done(false))),
    ];
    in_each_light(&AT_ARMS_LENGTH, LARGE, |glass| {
        page(glass, "a chore", &Up::Round { part: Part::Chores }, "Sweep", CHORES);
    });
}

#[test]
fn water_to_fill_and_stalls_to_clean() {
    fn why(board: &mut Board, why: WhyFill) {
        board.round.truncate(1);
        board.round[0].why = why;
    }
    const FILL: &[State] = &[
        ("empty", |board| why(board, WhyFill::Empty)),
        ("low", |board| why(board, WhyFill::Low)),
        ("not known", |board| why(board, WhyFill::Unknown)),
    ];
    fn clean(board: &mut Board, cleaned: Option<DoneView>) {
        board.stalls[0].cleaned = cleaned;
    }
    const CLEAN: &[State] = &[
        ("to clean", |board| clean(board, None)),
        ("clean, can be taken back", |board| clean(board, done(true))),
        ("clean", |board| clean(board, done(false))),
    ];
    in_each_light(&AT_ARMS_LENGTH, LARGE, |glass| {
        page(glass, "a bucket to fill", &Up::Round { part: Part::Water }, "", FILL);
        page(glass, "a stall to clean", &Up::Round { part: Part::Stalls }, "", CLEAN);
    });
}

#[test]
fn hay() {
    fn answered(board: &mut Board, allowed: Option<bool>) {
        board.hay.truncate(1);
        let by = "Lena".to_owned();
        board.hay[0].answer = allowed.map(|allowed| HayAnswerView { allowed, by, ago_min: 3 });
    }
    const HAY: &[State] = &[
        ("asked", |board| answered(board, None)),
        ("yes", |board| answered(board, Some(true))),
        ("no", |board| answered(board, Some(false))),
    ];
    in_each_light(&AT_ARMS_LENGTH, LARGE, |glass| page(glass, "hay", &Up::Round { part: Part::Hay }, "", HAY));
}

#[test]
fn signs_and_buttons_that_are_chosen() {
    const SIGNS: &[State] = &[
        ("not seen", |board| wronged(board, false)),
        ("seen", |board| {
            wronged(board, true);
        }),
    ];
    in_each_light(&AT_ARMS_LENGTH, LARGE, |glass| {
        let board = samples::board("whole");
        let horse = board.stalls.iter().find(|stall| stall.id.as_str() == "3").and_then(|stall| stall.horse.as_ref());
        let horse = horse.expect("a horse").id.clone();
        let sign = bellmare_kiosk::words::seen(Seen::ALL[0]);
        page(glass, "a sign", &Up::Wrong { horse }, &sign, SIGNS);

        // The same button on the page that it opens and on another.
        let crops: Vec<_> = [Part::Chores, Part::Hay]
            .into_iter()
            .map(|part| {
                let up = Up::Round { part };
                glass.kiosk.hear(board.clone());
                // The way back is the last, the hay before it.
                let here = Here::nobody(&board, Language::English);
                let laid =
                    lay_out(&pages::sheet(&up, &here, &glass.kiosk.sizes()).expect("a page"), &glass.kiosk.sizes(), 0);
                let tab = laid.placed.iter().rev().find(|placed| placed.item.text == "Hay").expect("a tab");
                let rect = tab.rect;
                (format!("{part:?}"), Crop::of(&glass.draw(up), rect))
            })
            .collect();
        all_apart("a tab", glass.light, &crops);

        let keys: Vec<_> = [None, Some(0)]
            .into_iter()
            .map(|key| {
                glass.kiosk.open(Up::Check { stall: "3".into(), sign: Sign::Gums });
                if let Some(key) = key {
                    glass.kiosk.app().global::<bellmare_kiosk::ui::Check>().invoke_key_touched(key);
                }
                let keys = glass.kiosk.app().global::<bellmare_kiosk::ui::Check>().get_keys();
                let row = slint::Model::row_data(&keys, 0).expect("a key");
                let picture = glass.draw(Up::Check { stall: "3".into(), sign: Sign::Gums });
                (format!("{key:?}"), Crop::of(&picture, Rect::new(row.x, row.y, row.w, row.h)))
            })
            .collect();
        all_apart("a key", glass.light, &keys);
    });
}

#[test]
fn the_head_of_a_card() {
    in_each_light(&AT_ARMS_LENGTH, SMALL, |glass| {
        let crops: Vec<_> = STALLS
            .iter()
            .filter(|(name, _)| {
                ["later", "brush now", "late", "ready", "back", "rests", "is not itself", "the vet is called"]
                    .contains(name)
            })
            .filter(|(name, _)| *name != "brush now")
            .map(|(name, make)| {
                let mut board = samples::board("morning");
                make(&mut board);
                glass.kiosk.hear(board);
                let picture = glass.draw(Up::Card { stall: "3".into(), side: CardSide::Tack });
                ((*name).to_owned(), Crop::of(&picture, Rect::new(0.0, 0.0, 800.0, 70.0)))
            })
            .collect();
        all_apart("a card's head", glass.light, &crops);
    });
}

#[test]
fn columns_that_are_measured_and_those_that_are_expected() {
    in_each_light(&AT_ARMS_LENGTH, SMALL, |glass| {
        glass.kiosk.hear(samples::board("whole"));
        glass.draw(Up::Heat);
        let plot = glass.kiosk.app().global::<Plot>();
        let crops: Vec<_> = [false, true]
            .into_iter()
            .map(|pale| {
                let row = ColumnRow { x: 100.0, y: 200.0, w: 40.0, h: 100.0, tone: Tone::Now, pale };
                plot.set_columns(ModelRc::new(VecModel::from(vec![row])));
                (format!("pale {pale}"), Crop::of(&glass.canvas.draw(), Rect::new(90.0, 190.0, 60.0, 120.0)))
            })
            .collect();
        all_apart("a column", glass.light, &crops);
    });
}
