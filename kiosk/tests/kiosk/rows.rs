//! Boards as rows of text: what the picture says, without drawing it.

use bellmare_barn::board::{
    AheadView, AlarmLine, AlarmWhat, Board, Clock, HeatBand, HeatView, Job, MissedView, Pace, PeopleBand, RideView,
    WaterState, WaterView, Who,
};
use bellmare_barn::heat::advice::for_horses;
use bellmare_barn::id::StallId;
use bellmare_barn::input::{Mark, Sensor};
use bellmare_barn::language::Language;
use bellmare_barn::limits::DisplayUnits;
use bellmare_barn::plan::reason::{Busy, Hands, Hindrance, Keeps};
use bellmare_barn::time::TimeOfDay;
use bellmare_barn::water::bucket::Fault;
use bellmare_kiosk::aisle::stalls::{Vessel, cell};
use bellmare_kiosk::aisle::{Tone, View, heat, picture, strip};
use bellmare_kiosk::app::{Settings, sizes};
use bellmare_kiosk::card;
use bellmare_kiosk::pages::Here;
use bellmare_kiosk::words;

use crate::samples;

fn text(name: &str, turn: usize, silent_s: Option<u64>) -> String {
    let board = samples::board(name);
    let sizes = sizes(&Settings::default(), 1920.0, 1080.0);
    picture(&View { board: &board, sizes, aisle: None, turn, silent_s, language: Language::English }).as_text()
}

#[test]
fn a_morning_says_where_to_go() {
    let expected = "\
9:12 | lesson 8:15, M. Ortega: 2 of 2 horses ready [Quiet]; lesson 9:45, M. Ortega: 1 of 4 horses ready [Low]; \
lesson 11:00, J. Byrne: 0 of 3 horses ready [Low]; lesson 12:00, J. Byrne: 0 of 1 horses ready [Low]; \
lesson 2:00, M. Ortega: 0 of 3 horses ready [Low]; lesson 3:00, J. Byrne: 0 of 3 horses ready [Low]
heat [Hot] begin to watch, heat 78 °F · 61 % · horse sum 139
!! [Alarm] Juniper, stall 7: bucket empty, for 22 min, touch when seen
[Quiet] stall 1, Biscuit, water 4.2 gal, enough
[Quiet] stall 2, Clover, water 2.9 gal, enough, mount 11:00 ooo
LOUD [Now] stall 3, Pepper, water 3.6 gal, enough, mount 9:45, tack up *oo
[Quiet] stall 4, Ruby, water 4.6 gal, enough
[Quiet] stall 5, Willow, water not known: sensor silent for 42 min, last 64 %
[Quiet] stall 6, Echo, water 3.0 gal, enough, mount 11:00 ooo
LOUD [Alarm] stall 7, Juniper, bucket empty for 22 min: fill now, mount 11:00 ooo
[Quiet] stall 8, Moss, water 3.9 gal, enough
[Quiet] stall 9, no bucket in this stall
[Quiet] stall 18, Tansy, water 4.0 gal, enough, mount 9:45 ***
LOUD [Late] stall 17, Domino, water 3.3 gal, enough, mount 9:45, late brush ooo
[Quiet] stall 16, Fern, water 3.5 gal, enough, mount 2:00 ooo
[Quiet] stall 15, Sorrel, water not known: its sensor was never heard
LOUD [Low] stall 14, Maple, water low, 0.9 gal: fill on the next round, mount 9:45 +oo
[Quiet] stall 13, Ivy, water 4.8 gal, enough
[Quiet] stall 12, Bramble, water 4.2 gal, enough, mount 12:00 ooo
[Quiet] stall 11, Pip, water not known: sensor faulty for 7 min
[Quiet] stall 10, Hazel, water 4.0 gal, enough, mount 2:00 ooo
Domino | brush | Theo | by 9:20 late
Pepper | tack up | Ana | by 9:35
Maple | brush | Ruth | by 9:25
jobs 1 of 2
On shift 5: Ana, Lena, Otis, Ruth, Theo";
    assert_eq!(text("morning", 0, None), expected);
}

/// A lesson is not ready while one of its riders has no horse, though all horses that go are.
#[test]
fn a_rider_without_a_horse_is_counted_on_the_line() {
    let lesson = |without| {
        let mut board = samples::board("morning");
        let lesson = &mut board.lessons[2];
        (lesson.horses, lesson.ready, lesson.without) = (2, 2, without);
        let sizes = sizes(&Settings::default(), 1920.0, 1080.0);
        words::set_language(Language::English);
        let view = View { board: &board, sizes, aisle: None, turn: 0, silent_s: None, language: Language::English };
        let lesson = picture(&view).timeline.lessons[2].clone();
        (lesson.text, lesson.tone, lesson.label)
    };
    let ready = "lesson 11:00, J. Byrne: 2 of 2 horses ready";
    assert_eq!(lesson(0), ("2/2".to_owned(), Tone::Ready, ready.to_owned()));
    assert_eq!(lesson(1), ("2/3".to_owned(), Tone::Low, format!("{ready} · 1 rider without a horse")));
    assert!(lesson(2).2.ends_with("2 riders without a horse"));
}

/// Who tacks up a horse that does no more work is told to take the tack off again, and nobody to lead it out.
#[test]
fn a_horse_that_is_taken_out_under_its_tack_is_put_away() {
    let mut board = samples::board("morning");
    let stall = board.stalls.iter_mut().find(|stall| stall.id.as_str() == "3").expect("stall 3");
    let horse = stall.horse.as_mut().expect("Pepper");
    horse.scratched = true;
    horse.rides.truncate(1);
    let ride = &mut horse.rides[0];
    (ride.off, ride.last, ride.links.brush, ride.links.tack) = (true, true, Mark::Done, Mark::Begun);
    words::set_language(Language::English);
    let stall = board.stalls.iter().find(|stall| stall.id.as_str() == "3").expect("stall 3");
    let shown = cell(&board, stall);
    assert_eq!((shown.word.as_str(), shown.tone, shown.mount.as_str()), ("put away", Tone::Now, "rests"));
    assert_eq!((shown.links, shown.ready), (None, false));
    let sizes = sizes(&Settings::default(), 1280.0, 800.0);
    let card = card::draw(&Here::nobody(&board, Language::English), &StallId::from("3"), &sizes).expect("a card");
    assert_eq!((card.pace, card.ride.as_str(), card.back), (Tone::Stop, "no ride left today", true));
    let work: Vec<_> = card.ways.iter().map(|way| way.item.text.as_str()).take(3).collect();
    assert_eq!(work, ["Begin untacking", "Put away", "Undo"]);
}

#[test]
fn metric_barns_read_twenty_four_hours_litres_and_celsius() {
    let text = text("quiet", 0, None);
    for said in ["13:05 |", "4 °C", "water 14 l", "mount 15:30", "by 13:35"] {
        assert!(text.contains(said), "{said} in\n{text}");
    }
    assert!(!text.contains("LOUD"), "{text}");
}

#[test]
fn every_trouble_takes_its_turn_in_the_strip() {
    let strips: Vec<String> = (0..8)
        .map(|turn| {
            let text = text("trouble", turn, None);
            text.lines().find(|line| line.starts_with("!!")).expect("a strip").to_owned()
        })
        .collect();
    assert_eq!(
        strips,
        [
            "!! [Alarm] Juniper, stall 7: bucket empty, for 22 min, touch when seen (1 of 8)",
            "!! [Critical] arena, heat: critical to monitor, for 4 min, touch when seen (2 of 8)",
            "!! [Unknown] stall 5, water: sensor silent, for 42 min, seen by Lena (3 of 8)",
            "!! [Battery] arena, climate: battery low, for 5 h, touch when seen (4 of 8)",
            "!! [Ready] Ruby, stall 4: bucket empty, for 31 min, over: touch to say seen (5 of 8)",
            "!! [Fault] sensors not heard: line down, for 6 min, connection refused (6 of 8)",
            "!! [Unknown] clock not set: no lesson times (7 of 8)",
            "!! [Unknown] badge 0412998 is not known, 12 s ago: sign in by name (8 of 8)",
        ]
    );
}

#[test]
fn no_shape_in_the_strip_means_two_things() {
    let sensor = || Sensor::Water("5".into());
    let horse = || "Bramble".to_owned();
    let vitals =
        |vet_now| AlarmWhat::VitalsCaution { horse: "Ruby".into(), stall: "4".into(), vet_now, cautions: Vec::new() };
    let heat = |band| AlarmWhat::Heat { place: "arena".into(), band };
    // What each shape says, and every alarm that says it.
    let troubles = [
        vec![
            AlarmWhat::BucketEmpty { stall: "7".into(), horse: None },
            AlarmWhat::TroughEmpty { paddock: "north".into() },
        ],
        vec![
            AlarmWhat::BucketLow { stall: "7".into(), horse: Some(horse()) },
            AlarmWhat::TroughLow { paddock: "north".into() },
            AlarmWhat::Leak { sensor: sensor(), litres_per_hour: 1.4 },
        ],
        vec![
            AlarmWhat::NotDrinking { stall: "7".into(), horse: horse(), hours: 9 },
            AlarmWhat::DrinksLittle { stall: "7".into(), horse: horse(), litres: 9.0, usual: 31.0 },
            AlarmWhat::DrinksMuch { stall: "7".into(), horse: horse(), litres: 80.0, usual: 31.0 },
            vitals(false),
        ],
        vec![vitals(true)],
        vec![
            AlarmWhat::Frost { place: "aisle".into(), from: None },
            AlarmWhat::Ice { stall: "7".into(), horse: horse() },
        ],
        vec![
            AlarmWhat::SensorFaulty { sensor: sensor(), fault: Fault::Stuck },
            AlarmWhat::SensorSilent { sensor: sensor() },
            AlarmWhat::ClimateDoubtful { places: vec!["arena".into()], of: 3 },
        ],
        vec![heat(HeatBand::Watch)],
        vec![heat(HeatBand::Critical)],
        vec![heat(HeatBand::Stop)],
        vec![AlarmWhat::BatteryLow { sensor: sensor() }],
        vec![AlarmWhat::JournalDown, AlarmWhat::BrokerDown],
    ];
    // What stalls and jobs say by a shape besides.
    let mut seen = vec![Tone::Late, Tone::Now, Tone::Ready];
    let alarm = samples::board("trouble").alarms.into_iter().find(|alarm| !alarm.over).expect("an alarm that stands");
    for alike in troubles {
        let tones: Vec<Tone> = alike
            .into_iter()
            .map(|what| {
                let mut board = samples::board("quiet");
                board.alarms = vec![AlarmLine { what, ..alarm.clone() }];
                strip::notices(&board).remove(0).tone
            })
            .collect();
        assert!(tones.iter().all(|tone| *tone == tones[0]), "{tones:?}");
        assert!(!seen.contains(&tones[0]), "{tones:?} after {seen:?}");
        seen.push(tones[0]);
    }
}

#[test]
fn a_silent_hub_is_said_on_every_page_with_the_age_of_the_picture() {
    for turn in 0..8 {
        let text = text("morning", turn, Some(90));
        let strips: Vec<&str> = text.lines().filter(|line| line.starts_with("!!")).collect();
        assert_eq!(strips[0], "!! [Unknown] hub silent for 90 s, this is the picture of 9:12");
        assert!(strips[1].contains("bucket empty"), "{text}");
    }
}

#[test]
fn the_horse_sum_is_never_called_a_heat_index() {
    for name in samples::ALL {
        assert!(!text(name, 0, None).to_lowercase().contains("heat index"), "{name}");
    }
}

#[test]
fn every_state_of_water_has_a_word_and_a_shape_of_its_own() {
    let known = |state| WaterView::Known { litres: 5.0, percent: 40.0, state, for_min: 3 };
    let states = [
        known(WaterState::Enough),
        known(WaterState::Low),
        known(WaterState::Empty),
        WaterView::NoBucket,
        WaterView::NeverHeard,
        WaterView::Silent { last_percent: 64.0, for_min: 42 },
        WaterView::Faulty { for_min: 7, fault: Some(Fault::Stuck) },
    ];
    let mut said = Vec::new();
    for water in states {
        let mut board = samples::board("morning");
        board.units = DisplayUnits::Metric;
        board.stalls[3].water = water;
        let cell = cell(&board, &board.stalls[3]);
        let words = format!("{} {}", cell.vessel_word, cell.word);
        assert!(!cell.vessel_word.is_empty(), "{water:?}");
        assert!(!said.contains(&words), "{words} is said of two states");
        said.push(words);
        match water {
            WaterView::Known { .. } => assert_eq!(cell.vessel, Vessel::Level(0.4)),
            WaterView::NoBucket => assert_eq!(cell.vessel, Vessel::None),
            // Not known is a question mark and never a level, whatever the last level was.
            _ => assert_eq!((cell.vessel, cell.vessel_tone), (Vessel::Unknown, Tone::Unknown)),
        }
    }
}

#[test]
fn every_band_of_heat_has_a_tone_and_a_word_of_its_own() {
    let mut seen = Vec::new();
    for band in [HeatBand::CarryOn, HeatBand::Watch, HeatBand::Critical, HeatBand::Stop] {
        let view = HeatView::Known {
            place: "aisle".into(),
            temperature: 25.0,
            humidity: 60.0,
            horse_sum: 137.0,
            heat_index: None,
            band,
            humid: false,
            dry: false,
            people: PeopleBand::NoCaution,
            advice: for_horses(band).to_vec(),
            ahead: None,
        };
        let shown = heat::draw(&view, DisplayUnits::Metric);
        assert!(!seen.iter().any(|(tone, word)| *tone == shown.tone || *word == shown.words()), "{shown:?}");
        assert!(shown.figures().contains("horse sum 137"), "{shown:?}");
        seen.push((shown.tone, shown.words()));
    }
    let unknown = heat::draw(&HeatView::Unknown { for_min: None }, DisplayUnits::Metric);
    assert_eq!((unknown.tone, unknown.figures()), (Tone::Unknown, "never heard".to_owned()));
}

#[test]
fn the_heat_line_says_what_comes_or_why_or_what_to_do() {
    let line = |band, humid, dry, ahead: Option<AheadView>| {
        let view = HeatView::Known {
            place: "aisle".into(),
            temperature: 4.0,
            humidity: 95.0,
            horse_sum: 134.2,
            heat_index: None,
            band,
            humid,
            dry,
            people: PeopleBand::NoCaution,
            advice: for_horses(band).to_vec(),
            ahead,
        };
        heat::draw(&view, DisplayUnits::UsCustomary)
    };
    let quarter_past_two = TimeOfDay::new(14, 15).expect("a time");
    let ahead = AheadView::Reaches {
        band: HeatBand::Critical,
        from: quarter_past_two,
        earliest: quarter_past_two,
        latest: None,
        until: None,
        lessons: Vec::new(),
    };
    let cold = line(HeatBand::CarryOn, true, false, None);
    assert_eq!((cold.word.as_str(), cold.figures()), ("carry on", "air 39 °F · 95 % · horse sum 134".to_owned()));
    for (shown, word) in [
        (line(HeatBand::CarryOn, false, false, Some(ahead.clone())), "carry on · critical to monitor from 2:15"),
        (line(HeatBand::Watch, true, false, None), "begin to watch · sweat dries badly"),
        (line(HeatBand::Watch, false, true, None), "begin to watch · dry heat"),
        (line(HeatBand::Watch, false, false, None), "begin to watch · water, shade"),
        (line(HeatBand::Critical, false, false, None), "critical to monitor · shorter, lighter, water"),
        (line(HeatBand::Stop, false, false, None), "choose another time · no work, shade"),
    ] {
        assert_eq!(shown.words(), word);
    }
}

#[test]
fn an_unset_clock_shows_no_time_and_water_all_the_same() {
    let mut board = samples::board("morning");
    board.clock = Clock::Unset;
    let sizes = sizes(&Settings::default(), 1920.0, 1080.0);
    let scene =
        picture(&View { board: &board, sizes, aisle: None, turn: 1, silent_s: None, language: Language::English });
    assert_eq!((scene.clock.as_str(), scene.clock_known, scene.timeline.now_x), ("no clock", false, None));
    assert!(scene.as_text().contains("fill now"));
}

#[test]
fn one_aisle_can_be_shown_alone() {
    let mut board = samples::board("four");
    board.stalls[1].aisle = "back".to_owned();
    let sizes = sizes(&Settings::default(), 1920.0, 1080.0);
    let scene = picture(&View {
        board: &board,
        sizes,
        aisle: Some("back"),
        turn: 0,
        silent_s: None,
        language: Language::English,
    });
    assert_eq!(scene.cells.iter().map(|cell| cell.id.as_str()).collect::<Vec<_>>(), ["2"]);
}

#[test]
fn a_card_lists_tack_in_the_order_it_goes_on_and_draws_stirrups_besides() {
    let board = samples::board("morning");
    let sizes = sizes(&Settings::default(), 1280.0, 800.0);
    let card = card::draw(&Here::nobody(&board, Language::English), &StallId::from("3"), &sizes).expect("a card");
    let tack: Vec<String> =
        card.tack.iter().map(|tack| format!("{} {} @ {}", tack.turn, tack.name, tack.place)).collect();
    assert_eq!(
        tack,
        [
            "1 wool pad @ shelf B",
            "2 riser pad, front @ shelf B",
            "3 saddle 12, 17 inch @ rack 4",
            "4 girth 44 @ hook 44",
            "5 peacock irons @ rack 4",
            "6 rainbow reins, on the halter @ peg 3",
        ]
    );
    assert_eq!(card.stirrups, Some((9, 11)));
    assert_eq!(card.ride, "ready by 9:35 · mount 9:45 · M. Ortega");
    assert_eq!(card.then, "then 2:00");
}

#[test]
fn a_horse_that_is_out_says_nothing_and_one_that_is_back_is_put_away() {
    let mut board = samples::board("morning");
    let sizes = sizes(&Settings::default(), 1280.0, 800.0);
    let pepper = |board: &Board| board.stalls.iter().find(|stall| stall.id.as_str() == "3").expect("Pepper").clone();
    let mut set = |change: &dyn Fn(&mut RideView)| {
        for stall in board.stalls.iter_mut().filter(|stall| stall.id.as_str() == "3") {
            change(&mut stall.horse.as_mut().expect("Pepper").rides[0]);
        }
        let card = card::draw(&Here::nobody(&board, Language::English), &StallId::from("3"), &sizes).expect("a card");
        let begin = card.ways[0].item.label();
        (cell(&board, &pepper(&board)).word, card.pace_word, begin)
    };
    let told = |word: &str, pace: &str, begin: &str| (word.to_owned(), pace.to_owned(), begin.to_owned());
    assert_eq!(set(&|_| {}), told("tack up", "", "Begin tacking, about 11 min, from 3 times"));
    let out = set(&|ride| {
        ride.pace = Pace::Ready;
        (ride.links.tack, ride.links.lead_out) = (Mark::Done, Mark::Done);
    });
    assert_eq!(out, told("", "", "Bringing back"));
    let back = set(&|ride| ride.links.bring_back = Mark::Done);
    assert_eq!(back, told("put away", "back", "Begin untacking, about 15 min, from 6 times"));
}

#[test]
fn the_card_says_in_its_readers_language_why_a_horse_can_not_go_and_why_staff_are_called() {
    let pepper = StallId::from("3");
    let sizes = sizes(&Settings::default(), 1920.0, 1080.0);
    let time = |hour, minute| TimeOfDay::new(hour, minute).expect("a time of day");
    let under_its_name = |board: &Board, language| {
        words::set_language(language);
        let card = card::draw(&Here::nobody(board, language), &pepper, &sizes).expect("a card");
        words::set_language(Language::English);
        card.then
    };
    let both = |board: &Board| [Language::English, Language::Spanish].map(|language| under_its_name(board, language));
    let busy = Hands::Busy(vec![
        Busy { name: "Ana".to_owned(), with: Keeps::Horse { name: "Juniper".to_owned(), until: time(9, 40) } },
        Busy { name: "Ben".to_owned(), with: Keeps::Away { until: time(10, 0) } },
    ]);
    let mut board = samples::board("morning");
    let horse = board.stalls.iter().find(|stall| stall.id == pepper).and_then(|s| s.horse.clone()).expect("Pepper");
    let tack = board.next.iter_mut().find(|next| next.horse == horse.id && next.job == Job::Tack).expect("its tack");
    (tack.who, tack.because) = (Who::Staff, Some(busy.clone()));
    assert_eq!(
        both(&board),
        [
            "staff are called: Ana with Juniper till 9:40, Ben away till 10:00",
            "se llama al personal: Ana con Juniper hasta 9:40, Ben fuera hasta 10:00"
        ]
    );
    board.missed.push(MissedView {
        ride: horse.rides[0].id.clone(),
        horse: horse.id,
        name: horse.name,
        stall: pepper.clone(),
        mount: horse.rides[0].mount,
        why: "in the hub's words".to_owned(),
        because: None,
    });
    let mut missed = |because| {
        board.missed[0].because = because;
        both(&board)
    };
    let words = "in the hub's words";
    assert_eq!(missed(None), [words; 2], "of a hub that has no value for it");
    let (piece, juniper) = ("saddle 12".to_owned(), "Juniper".to_owned());
    let on = Hindrance::TackOn { piece, horse: juniper, until: time(10, 40), dry: time(10, 50) };
    let told = ["saddle 12 on Juniper till 10:40, dry at 10:50", "saddle 12 en Juniper hasta 10:40, seca a las 10:50"];
    assert_eq!(missed(Some(on)), told);
    let told = [
        "too few hands: Ana with Juniper till 9:40, Ben away till 10:00",
        "faltan manos: Ana con Juniper hasta 9:40, Ben fuera hasta 10:00",
    ];
    assert_eq!(missed(Some(Hindrance::TooFewHands(busy))), told);
    let told = missed(Some(Hindrance::TooLate { now: time(9, 40) }));
    assert_eq!(told, ["too late to tack it up", "ya no hay tiempo de ensillarlo"]);
}

#[test]
fn of_a_long_reason_as_much_is_said_as_there_is_room_for() {
    let with = Keeps::Horse { name: "Juniper".to_owned(), until: TimeOfDay::new(9, 40).expect("a time of day") };
    let busy = |name: &str| Busy { name: name.to_owned(), with: with.clone() };
    let said = |grooms: &[&str]| {
        let mut board = samples::board("morning");
        let tack = board.next.iter_mut().find(|next| next.name == "Pepper").expect("its tack");
        tack.because = Some(Hands::Busy(grooms.iter().copied().map(busy).collect()));
        let sizes = sizes(&Settings::default(), 1024.0, 600.0);
        card::draw(&Here::nobody(&board, Language::English), &StallId::from("3"), &sizes).expect("a card").then
    };
    assert_eq!(said(&["Ana"]), "staff are called: Ana with Juniper till 9:40");
    assert_eq!(said(&["Ana", "Ben"]), "staff are called: Ana till 9:40, Ben till 9:40");
    assert_eq!(said(&["Ana", "Ben", "Theo", "Ruth", "Kit"]), "staff are called");
}

#[test]
fn what_the_plan_can_not_have_is_told_with_the_reason() {
    let mut board = samples::board("morning");
    let horse =
        board.stalls.iter().find(|stall| stall.id.as_str() == "3").and_then(|s| s.horse.clone()).expect("Pepper");
    board.missed.push(MissedView {
        ride: horse.rides[0].id.clone(),
        horse: horse.id,
        name: horse.name,
        stall: "3".into(),
        mount: horse.rides[0].mount,
        why: "saddle 12 is on Juniper until 10:40".to_owned(),
        because: None,
    });
    let sizes = sizes(&Settings::default(), 1920.0, 1080.0);
    let text =
        picture(&View { board: &board, sizes, aisle: None, turn: 0, silent_s: None, language: Language::English })
            .as_text();
    assert!(text.contains("Pepper | can not go | - | 9:45"), "{text}");
    let card = card::draw(&Here::nobody(&board, Language::English), &StallId::from("3"), &sizes).expect("a card");
    assert_eq!((card.pace_word.as_str(), card.then.as_str()), ("can not go", "saddle 12 is on Juniper until 10:40"));
    // Where something else stands beside its name, that is said with the reason.
    let mut away = board.clone();
    for stall in away.stalls.iter_mut().filter(|stall| stall.id.as_str() == "3") {
        stall.horse.as_mut().expect("Pepper").scratched = true;
    }
    let card = card::draw(&Here::nobody(&away, Language::English), &StallId::from("3"), &sizes).expect("a card");
    assert_eq!(card.then, "can not go: saddle 12 is on Juniper until 10:40");
    // Nobody is to hurry for it, late as it is.
    for stall in board.stalls.iter_mut().filter(|stall| stall.id.as_str() == "3") {
        stall.horse.as_mut().expect("Pepper").rides[0].pace = Pace::Late;
    }
    let pepper = board.stalls.iter().find(|stall| stall.id.as_str() == "3").expect("Pepper");
    let cell = cell(&board, pepper);
    assert_eq!((cell.loud, cell.word.as_str(), cell.mount.as_str()), (false, "", "can not go"));
    // Nothing there is to be done. How far it has come stands on its card.
    assert!(cell.links.is_none() && card.cell.links.is_some());
}
