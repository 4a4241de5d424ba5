//! The glass: dark by the board's clock, bright for who touches it, wiped, and never showing the same picture in the same place.

use std::rc::Rc;
use std::time::Duration;

use bellmare_barn::board::Clock;
use bellmare_barn::time::TimeOfDay;
use bellmare_kiosk::app::{Kiosk, Line, Settings, Up};
use bellmare_kiosk::picture::Canvas;
use bellmare_kiosk::ui::{Glass, Light, Theme};
use slint::platform::{PointerEventButton, WindowEvent};
use slint::{ComponentHandle, LogicalPosition, Rgb8Pixel};

use crate::samples;

struct Stand {
    canvas: Canvas,
    kiosk: Rc<Kiosk>,
}

fn stand(night: &str) -> Stand {
    before(Canvas::new(1280, 800).expect("a canvas"), night)
}

fn before(canvas: Canvas, night: &str) -> Stand {
    let settings = Settings { night: night.parse().expect("hours"), ..Settings::default() };
    let kiosk = Kiosk::new(settings, Line::nowhere()).expect("a window");
    kiosk.app().show().expect("shown");
    Stand { canvas, kiosk }
}

impl Stand {
    fn hear_at(&self, hour: u16, minute: u16) {
        let mut board = samples::board("morning");
        let Clock::Set { time, .. } = &mut board.clock else { panic!("the sample has a clock") };
        *time = TimeOfDay::new(hour, minute).expect("a time");
        self.kiosk.hear(board);
    }

    fn light(&self) -> Light {
        self.kiosk.app().global::<Theme>().get_light()
    }

    fn touch(&self, x: f32, y: f32) {
        let (position, button) = (LogicalPosition::new(x, y), PointerEventButton::Left);
        let window = self.kiosk.app().window();
        window.dispatch_event(WindowEvent::PointerPressed { position, button });
        window.dispatch_event(WindowEvent::PointerReleased { position, button });
    }
}

#[test]
fn it_is_dark_at_night_and_a_touch_wakes_it_for_a_minute() {
    let stand = stand("21:00-6:00");
    stand.hear_at(20, 59);
    assert_eq!(stand.light(), Light::Day);
    stand.hear_at(21, 0);
    assert_eq!(stand.light(), Light::Dim);
    // On nothing that can be touched: between the clock and the line of lessons.
    stand.touch(200.0, 4.0);
    assert_eq!(stand.light(), Light::Night);
    assert_eq!(stand.kiosk.up(), Up::Aisle);
    stand.canvas.pass(Duration::from_secs(59));
    assert_eq!(stand.light(), Light::Night);
    stand.canvas.pass(Duration::from_secs(2));
    assert_eq!(stand.light(), Light::Dim);
    stand.kiosk.open(Up::card("3"));
    assert_eq!(stand.light(), Light::Night, "a touch on anything wakes it too");
    stand.canvas.pass(Duration::from_secs(61));
    stand.hear_at(6, 0);
    assert_eq!(stand.light(), Light::Day);
}

#[test]
fn the_night_comes_also_where_the_hub_is_silent() {
    let stand = stand("21:00-6:00");
    stand.hear_at(20, 30);
    stand.kiosk.last_word(Duration::from_secs(29 * 60));
    assert_eq!(stand.light(), Light::Day);
    stand.kiosk.last_word(Duration::from_secs(30 * 60));
    assert_eq!(stand.light(), Light::Dim);
}

#[test]
fn touches_do_nothing_while_the_glass_is_wiped_and_all_is_there_after_it() {
    let stand = stand("never");
    stand.hear_at(9, 12);
    let glass = stand.kiosk.app().global::<Glass>();
    stand.kiosk.wipe();
    assert_eq!(glass.get_left(), "60 s");
    // A stall that speaks up, on either page.
    stand.touch(600.0, 300.0);
    assert_eq!(stand.kiosk.up(), Up::Aisle);
    for left in (1..60).rev() {
        stand.canvas.pass(Duration::from_millis(1001));
        assert_eq!(glass.get_left(), format!("{left} s"));
        assert!(stand.kiosk.is_wiped());
    }
    stand.touch(600.0, 300.0);
    assert_eq!(stand.kiosk.up(), Up::Aisle);
    stand.canvas.pass(Duration::from_millis(1001));
    assert!(!stand.kiosk.is_wiped());
    stand.touch(600.0, 300.0);
    assert!(matches!(stand.kiosk.up(), Up::Card { .. }), "{:?}", stand.kiosk.up());
}

/// The glass as it is while it is wiped and when that is over, drawn each second; into one buffer, or into a new one each time.
fn wiped(into_one: bool) -> [Vec<Rgb8Pixel>; 3] {
    let canvas = if into_one { Canvas::reusing(1280, 800) } else { Canvas::new(1280, 800) };
    let stand = before(canvas.expect("a canvas"), "never");
    stand.hear_at(9, 12);
    let mut pixels = vec![Rgb8Pixel::default(); 1280 * 800];
    let mut draw = || {
        stand.canvas.ask();
        stand.canvas.draw_into(&mut pixels);
        pixels.clone()
    };
    let before = draw();
    stand.kiosk.wipe();
    let during = draw();
    for _ in 0..60 {
        stand.canvas.pass(Duration::from_millis(1001));
        draw();
    }
    assert!(!stand.kiosk.is_wiped());
    [before, during, draw()]
}

#[test]
fn the_whole_picture_is_drawn_again_after_the_glass_was_wiped() {
    // One platform to a thread.
    let [one, new] = [true, false].map(|into_one| std::thread::spawn(move || wiped(into_one)).join().expect("drawn"));
    let off = |a: &[Rgb8Pixel], b: &[Rgb8Pixel]| a.iter().zip(b).filter(|(a, b)| a != b).count();
    assert!(off(&one[0], &one[1]) > 100_000, "all else was covered while it was wiped");
    for (what, (one, new)) in ["before", "while", "after"].into_iter().zip(one.iter().zip(&new)) {
        assert_eq!(off(one, new), 0, "{what} it was wiped pixels were left that are no longer so");
    }
}

#[test]
fn the_picture_walks_and_what_is_touched_walks_along() {
    let stand = stand("never");
    stand.hear_at(9, 12);
    let before = stand.canvas.draw();
    stand.canvas.pass(Duration::from_secs(301));
    let glass = stand.kiosk.app().global::<Glass>();
    assert_eq!((glass.get_x(), glass.get_y()), (1.0, 0.0));
    let after = stand.canvas.draw();
    // A row through the clock and the heat: the same, one pixel further.
    let (width, row) = (1280, 60 * 1280);
    let shown = |pixels: &[slint::Rgb8Pixel], from: usize| pixels[row + from..row + width - 2 + from].to_vec();
    assert_eq!(shown(before.as_slice(), 0), shown(after.as_slice(), 1));
    stand.touch(600.0, 300.0);
    assert!(matches!(stand.kiosk.up(), Up::Card { .. }), "{:?}", stand.kiosk.up());
}
