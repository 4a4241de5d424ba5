//! Every saved board on every panel: nothing stands on anything else, nothing is cut off, everything can be touched.

use bellmare_barn::board::{AheadView, Board, HeatBand, HeatView};
use bellmare_barn::language::Language;
use bellmare_barn::refusal::Because;
use bellmare_barn::time::TimeOfDay;
use bellmare_kiosk::aisle::frame::{Mode, Rect};
use bellmare_kiosk::aisle::{Scene, View, heat, picture, strip};
use bellmare_kiosk::app::{Settings, sizes};
use bellmare_kiosk::card;
use bellmare_kiosk::check::{self, Entry, Sign};
use bellmare_kiosk::pages::Here;
use bellmare_kiosk::pages::keypad::{self, Tried};
use bellmare_kiosk::sizes::{LEAST_ARCMIN, Sizes, TOUCH_GAP_MM, TOUCH_MM};
use bellmare_kiosk::text::{self, Weight};
use bellmare_kiosk::words;

use crate::samples;

const PANELS: [(f32, f32); 4] = [(1920.0, 1080.0), (1280.0, 800.0), (800.0, 480.0), (800.0, 1280.0)];

fn scene(board: &Board, sizes: Sizes, turn: usize, silent_s: Option<u64>) -> Scene {
    picture(&View { board, sizes, aisle: None, turn, silent_s, language: words::language() })
}

/// Every page of every board on every panel in every language.
fn every_page(mut check: impl FnMut(&str, &Board, &Scene)) {
    for language in [Language::English, Language::Spanish] {
        words::set_language(language);
        every_page_in(language, &mut check);
    }
}

fn every_page_in(language: Language, check: &mut impl FnMut(&str, &Board, &Scene)) {
    for name in samples::ALL {
        let board = samples::board(name);
        for (width, height) in PANELS {
            for silent in [None, Some(240)] {
                let sizes = sizes(&Settings::default(), width, height);
                let pages = scene(&board, sizes, 0, silent).pages;
                for turn in 0..pages {
                    let what = format!(
                        "{name} in {language:?} at {width}x{height}, silent {silent:?}, page {turn} of {pages}"
                    );
                    check(&what, &board, &scene(&board, sizes, turn, silent));
                }
            }
        }
    }
}

fn overlap(a: Rect, b: Rect) -> bool {
    a.x < b.right() - 0.5 && b.x < a.right() - 0.5 && a.y < b.bottom() - 0.5 && b.y < a.bottom() - 0.5
}

#[test]
fn nothing_overlaps_and_nothing_leaves_the_glass() {
    every_page(|what, _, scene| {
        let mut parts = scene.targets();
        if !scene.frame.head_touched {
            parts.push(("clock".into(), scene.frame.clock));
            parts.push(("heat".into(), scene.frame.heat));
        }
        parts.push(("lessons".into(), scene.frame.timeline));
        if scene.frame.work.h > 0.0 && !scene.work.touchable {
            parts.push(("work".into(), scene.frame.work));
        }
        let strips = scene.strips.iter().filter(|strip| strip.alarm.is_none());
        parts.extend(strips.map(|strip| (strip.label.clone(), strip.rect)));
        let glass = scene.sizes.panel;
        for (at, (label, rect)) in parts.iter().enumerate() {
            let inside = rect.x >= 0.0 && rect.y >= 0.0;
            let inside = inside && rect.right() <= glass.width_px + 0.5 && rect.bottom() <= glass.height_px + 0.5;
            assert!(inside, "{what}: {label} leaves the glass: {rect:?}");
            for (other, place) in &parts[at + 1..] {
                assert!(!overlap(*rect, *place), "{what}: {label} {rect:?} and {other} {place:?}");
            }
        }
    });
}

#[test]
fn what_is_touched_is_large_enough_and_apart() {
    every_page(|what, _, scene| {
        let px_per_mm = scene.sizes.panel.px_per_mm();
        let targets = scene.targets();
        for (at, (label, rect)) in targets.iter().enumerate() {
            let side_mm = rect.w.min(rect.h) / px_per_mm;
            assert!(side_mm >= TOUCH_MM - 0.05, "{what}: {label} is {side_mm} mm");
            for (other, place) in &targets[at + 1..] {
                let gap_x = (place.x - rect.right()).max(rect.x - place.right());
                let gap_y = (place.y - rect.bottom()).max(rect.y - place.bottom());
                let gap_mm = gap_x.max(gap_y) / px_per_mm;
                assert!(gap_mm >= TOUCH_GAP_MM - 0.25, "{what}: {label} and {other} are {gap_mm} mm apart");
            }
        }
    });
}

#[test]
fn what_must_be_read_from_the_aisle_is_large_enough_for_it() {
    every_page(|what, _, scene| {
        let far = scene.frame.types.far;
        let least = scene.sizes.aisle_font(LEAST_ARCMIN);
        // With a silent hub and an alarm both across the top, the smallest panel shows the rest smaller.
        let crowded = scene.sizes.panel.height_px < 500.0 && scene.strips.len() > 1;
        assert!(far >= least - 0.01 || crowded, "{what}: {far} px, not {least}");
        for cell in scene.cells.iter().filter(|cell| cell.loud) {
            let name = text::width(&cell.name, cell.name_px, Weight::Bold);
            assert!(name < cell.rect.w, "{what}: {} is {name} px wide", cell.name);
            assert!(cell.name_px >= far * 0.85, "{what}: {} shrank to {} px", cell.name, cell.name_px);
        }
    });
}

#[test]
fn how_long_an_alarm_has_stood_is_not_cut_off() {
    every_page(|what, _, scene| {
        let small = scene.frame.types.small;
        for notice in scene.strips.iter().filter(|notice| !notice.below) {
            let room = strip::side_width(notice, &scene.frame.types);
            for words in [format!("{} · {}", notice.count, notice.age), notice.state.clone()] {
                // The renderer sets a line a little wider than its letters are.
                let needed = 1.02 * text::width(&words, small, Weight::SemiBold);
                assert!(needed <= room, "{what}: {words:?} takes {needed} px of {room}");
            }
        }
    });
}

#[test]
fn every_stall_comes_once_and_in_its_real_order() {
    for name in samples::ALL {
        let board = samples::board(name);
        for (width, height) in PANELS {
            let sizes = sizes(&Settings::default(), width, height);
            let pages = scene(&board, sizes, 0, None).pages;
            let cells: Vec<_> = (0..pages).flat_map(|turn| scene(&board, sizes, turn, None).cells).collect();
            for upper in [true, false] {
                let shown: Vec<&str> =
                    cells.iter().filter(|cell| cell.upper == upper).map(|cell| cell.id.as_str()).collect();
                let side = if upper { bellmare_barn::book::Side::Left } else { bellmare_barn::book::Side::Right };
                let real: Vec<&str> =
                    board.stalls.iter().filter(|stall| stall.side == side).map(|stall| stall.id.as_str()).collect();
                assert_eq!(shown, real, "{name} at {width}x{height}");
            }
        }
    }
}

#[test]
fn a_large_panel_shows_a_whole_aisle_at_once() {
    let board = samples::board("morning");
    let scene = scene(&board, sizes(&Settings::default(), 1920.0, 1080.0), 0, None);
    assert_eq!((scene.pages, scene.frame.mode, scene.cells.len()), (1, Mode::Joint, 18));
    assert_eq!(scene.work.jobs.len(), 3);
}

#[test]
fn a_panel_of_10_inch_keeps_alarm_work_and_shift_on_every_page() {
    for language in [Language::English, Language::Spanish] {
        words::set_language(language);
        for name in samples::ALL {
            let board = samples::board(name);
            let sizes = sizes(&Settings::default(), 1280.0, 800.0);
            let pages = scene(&board, sizes, 0, None).pages;
            for turn in 0..pages {
                let scene = scene(&board, sizes, turn, None);
                let what = format!("{name} in {language:?}, page {turn} of {pages}");
                assert_eq!(scene.frame.mode, Mode::Joint, "{what}: {:?}", scene.frame);
                assert!(scene.strips.len() == 1 || board.alarms.is_empty(), "{what}");
                assert!(!scene.cells.is_empty() && scene.frame.shift.h > 0.0, "{what}");
                assert!(!scene.work.jobs.is_empty() || board.next.is_empty(), "{what}");
            }
        }
    }
}

#[test]
fn a_small_panel_far_away_shows_less_at_once_and_not_smaller() {
    let board = samples::board("quiet");
    let far_away = Settings { distance_m: Some(3.0), ..Settings::default() };
    let sizes = sizes(&far_away, 1280.0, 800.0);
    let scene = scene(&board, sizes, 0, None);
    assert!(scene.frame.types.far >= sizes.aisle_font(LEAST_ARCMIN) - 0.01);
    assert!(scene.pages > 2, "{} pages", scene.pages);
}

#[test]
fn a_check_is_large_enough_to_touch_on_every_panel() {
    let board = samples::board("morning");
    let stall = board.stalls.iter().find(|stall| stall.horse.is_some()).expect("a horse").id.clone();
    let languages = [Language::English, Language::Spanish];
    for (language, (width, height)) in languages.into_iter().flat_map(|one| PANELS.map(|panel| (one, panel))) {
        words::set_language(language);
        let sizes = sizes(&Settings::default(), width, height);
        for sign in Sign::ALL {
            let mut entry = Entry::default();
            entry.press(sign, 0, board.units);
            let page = check::draw(&board, &stall, sign, &entry, &sizes).expect("a page");
            let targets = page.targets();
            for (at, (label, rect)) in targets.iter().enumerate() {
                let side_mm = rect.w.min(rect.h) / sizes.panel.px_per_mm();
                assert!(side_mm >= TOUCH_MM - 0.05, "{label} at {width}x{height} is {side_mm} mm");
                assert!(rect.right() <= width + 0.5 && rect.bottom() <= height + 0.5, "{label} at {width}x{height}");
                let apart = |other: &Rect| !overlap(*rect, *other);
                assert!(targets[at + 1..].iter().all(|(_, other)| apart(other)), "{label} at {width}x{height}");
            }
            assert!(page.middle.h > page.value_px * 1.1, "{sign:?} at {width}x{height}: {page:?}");
            assert!(page.value_px >= sizes.arm_font(LEAST_ARCMIN), "{sign:?} at {width}x{height}");
            let title = text::width(&page.title, page.title_px, Weight::Bold);
            assert!(title <= page.head.w, "{sign:?} at {width}x{height}");
        }
    }
}

/// In each language on each panel: the keys for a PIN say all of why it was not taken, at a size that an arm's length asks for.
#[test]
fn why_a_pin_was_not_taken_is_said_whole() {
    let board = samples::board("morning");
    let person = board.people[0].id.clone();
    let languages = [Language::English, Language::Spanish];
    for (language, (width, height)) in languages.into_iter().flat_map(|one| PANELS.map(|panel| (one, panel))) {
        words::set_language(language);
        let sizes = sizes(&Settings::default(), width, height);
        let here = Here { board: &board, who: None, staff: None, language, stand_ins: None };
        for because in Because::ALL.into_iter().filter(|because| *because != Because::Other) {
            let wait_s = if because == Because::TooManyPins { 3599 } else { 0 };
            let why = words::pin_refused(&because.says(""), wait_s);
            let page = keypad::pin(&here, &person, "", &Tried::Refused(why), &sizes).expect("a page");
            let px = page.base;
            let (room, wide) = (page.head.w, text::width(&page.below, px, Weight::Regular));
            assert!(wide <= room, "{language:?} at {width}x{height}: {} is {wide} px of {room}", page.below);
            assert!(px >= sizes.arm_font(LEAST_ARCMIN) - 0.01, "{language:?} at {width}x{height}: {px} px");
        }
    }
}

/// What is to be minded stands at the end of a piece of tack: in each language on each panel its row holds all of it, at a size
/// that an arm's length asks for.
#[test]
fn what_is_to_be_minded_of_tack_is_said_whole() {
    let mut board = samples::board("morning");
    let stall = board.stalls.iter_mut().find(|stall| stall.id.as_str() == "3").expect("stall 3");
    let girth = &mut stall.horse.as_mut().expect("a horse").rides[0].tack[2];
    girth.name = "girth 4, 50".to_owned();
    girth.note = "check again before mounting".to_owned();
    girth.note_spanish = "revisar otra vez antes de montar".to_owned();
    let languages = [(Language::English, &girth.note.clone()), (Language::Spanish, &girth.note_spanish.clone())];
    for ((language, note), (width, height)) in languages.into_iter().flat_map(|one| PANELS.map(|panel| (one, panel))) {
        words::set_language(language);
        let sizes = sizes(&Settings::default(), width, height);
        let card = card::draw(&Here::nobody(&board, language), &"3".into(), &sizes).expect("a card");
        assert!(card.tack[2].name.ends_with(note), "{language:?}: {}", card.tack[2].name);
        let base = card.frame.base;
        for tack in &card.tack {
            // Of ui/card.slint: 0.7 for the turn, for each side and for the two gaps.
            let room = card.frame.tack.w - text::width(&tack.place, base, Weight::SemiBold) - 3.5 * base;
            let wide = text::width(&tack.name, tack.px, Weight::Bold);
            assert!(wide <= room, "{language:?} at {width}x{height}: {} is {wide} px of {room}", tack.name);
            assert!(tack.px >= sizes.arm_font(LEAST_ARCMIN) - 0.01, "{language:?} at {width}x{height}: {} px", tack.px);
        }
    }
}

/// However much there is to say of the heat: the lessons keep a part of the line that can be read, and the heat all of its words.
#[test]
fn the_lessons_keep_their_room_beside_the_heat() {
    let mut board = samples::board("morning");
    let from = TimeOfDay::new(12, 45).expect("a time");
    let (latest, until, lessons) = (None, None, Vec::new());
    let reaches = AheadView::Reaches { band: HeatBand::Critical, from, earliest: from, latest, until, lessons };
    let languages = [Language::English, Language::Spanish];
    let panels = PANELS.into_iter().chain([(1024.0, 600.0)]).filter(|(width, height)| width > height);
    for (language, (width, height)) in
        languages.into_iter().flat_map(|one| panels.clone().map(move |panel| (one, panel)))
    {
        words::set_language(language);
        for (noticed, coming) in [(true, true), (true, false), (false, true), (false, false)] {
            let HeatView::Known { band, ahead, advice, .. } = &mut board.heat else { panic!("the heat is known") };
            (*band, *ahead) = (HeatBand::CarryOn, coming.then(|| reaches.clone()));
            advice.clear();
            board.alarms = if noticed { samples::board("morning").alarms } else { Vec::new() };
            let sizes = sizes(&Settings::default(), width, height);
            let Scene { frame, heat, .. } = scene(&board, sizes, 0, None);
            let what = format!("{language:?} at {width}x{height}, noticed {noticed}, coming {coming}");
            assert!(frame.timeline.w >= 0.15 * width, "{what}: {:?}", frame.timeline);
            let [word, more, figures] = heat.lines(frame.heat_lines);
            let word = text::width(&word, heat::word_px(&heat, frame.heat_lines, &frame.types), Weight::SemiBold);
            let more = text::width(&more, frame.types.small, Weight::SemiBold);
            let wide = |line| text::width(line, frame.types.small, Weight::Regular);
            let figures = figures.lines().map(wide).fold(0.0, f32::max);
            // Of ui/aisle.slint: the shape before the words, and a margin after them.
            let room = frame.heat.w - 2.05 * frame.types.near;
            assert!(word.max(more).max(figures) <= room, "{what}: {heat:?} in {room} px");
        }
    }
}
