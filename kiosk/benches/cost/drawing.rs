//! Drawing into memory: a whole frame, a changed stall, and a month of boards.
//!
//! Pixels are those that the kiosk draws into as it is shipped, with Slint's software renderer alone (features in `Cargo.toml`).
//! In a window they are of 32 bits, alpha, red, green and blue from the highest byte down: `SoftBufferPixel` in `renderer/sw.rs`
//! of i-slint-backend-winit 1.18.1. On a board's display `renderer/sw.rs` of i-slint-backend-linuxkms 1.18.1 takes the first that
//! the display has of XRGB8888, ARGB8888, BGRA8888, all of four bytes, and RGB565, of two; the first two are laid out as in a
//! window. Three bytes a pixel are drawn into for pictures alone (`--picture`), and are printed beside.

use std::time::Duration;

use bellmare_barn::board::WaterView;
use bellmare_kiosk::app::{Kiosk, Line, Settings};
use bellmare_kiosk::picture::Canvas;
use rustix::time::{ClockId, clock_gettime};
use slint::platform::software_renderer::{PremultipliedRgbaColor, TargetPixel};
use slint::{ComponentHandle, Rgb8Pixel, SharedPixelBuffer};

use crate::{Figure, PANEL, barn, later, percentile, resident_mb};

/// A day of boards, one a minute.
const DAY: usize = 24 * 60;
/// A month of them.
const MONTH: usize = 30 * DAY;

/// A pixel of a window or a display: alpha, red, green and blue from the highest byte down.
#[derive(Clone, Copy, Default)]
struct OfWindow(u32);

impl TargetPixel for OfWindow {
    fn blend(&mut self, color: PremultipliedRgbaColor) {
        // By shifts, as the backends have it: bytes in memory order would be swapped for each pixel.
        let byte = |at: u32| (self.0 >> at) as u8;
        let mut mixed = PremultipliedRgbaColor { alpha: byte(24), red: byte(16), green: byte(8), blue: byte(0) };
        mixed.blend(color);
        *self = Self::of(mixed);
    }

    fn from_rgb(red: u8, green: u8, blue: u8) -> Self {
        Self::of(PremultipliedRgbaColor { alpha: 0xff, red, green, blue })
    }

    fn background() -> Self {
        Self(0)
    }
}

impl OfWindow {
    fn of(color: PremultipliedRgbaColor) -> Self {
        let PremultipliedRgbaColor { alpha, red, green, blue } = color;
        Self(u32::from(alpha) << 24 | u32::from(red) << 16 | u32::from(green) << 8 | u32::from(blue))
    }
}

fn window() -> Vec<OfWindow> {
    vec![OfWindow::default(); (PANEL.0 * PANEL.1) as usize]
}

pub fn measure(quick: bool) -> anyhow::Result<Vec<Figure>> {
    let rounds = if quick { 50 } else { 300 };
    // One platform to a thread.
    let apart = |work: fn(bool, usize) -> anyhow::Result<Vec<Figure>>| {
        let done = std::thread::spawn(move || work(quick, rounds)).join();
        done.map_err(|_| anyhow::anyhow!("drawing could not be measured"))?
    };
    let mut figures = apart(whole_frames)?;
    figures.extend(apart(changes)?);
    figures.extend(apart(month)?);
    Ok(figures)
}

fn whole_frames(_quick: bool, rounds: usize) -> anyhow::Result<Vec<Figure>> {
    let canvas = Canvas::new(PANEL.0, PANEL.1)?;
    let kiosk = Kiosk::new(Settings::default(), Line::nowhere())?;
    kiosk.app().show()?;
    kiosk.hear(barn()?);
    let frames = |draw: &mut dyn FnMut()| -> Vec<f64> {
        let mut frame = || {
            canvas.ask();
            timed(&mut || draw())
        };
        (0..=rounds).map(|_| frame()).collect()
    };
    let mut pixels = window();
    let mut of_window = frames(&mut || {
        canvas.draw_into(&mut pixels);
    });
    let first = of_window.remove(0);
    let mut pixels = SharedPixelBuffer::<Rgb8Pixel>::new(PANEL.0, PANEL.1);
    let mut of_picture = frames(&mut || {
        canvas.draw_into(pixels.make_mut_slice());
    });
    Ok(vec![
        figure("first frame", first, None, "once"),
        figure("full frame", percentile(&mut of_window, 0.5), Some(2.0), "median of the processor's time, into memory"),
        figure(
            "the same, quickest tenth",
            percentile(&mut of_window, 0.1),
            None,
            "what other programs leave of the caches counts",
        ),
        figure("the same, three bytes a pixel", percentile(&mut of_picture, 0.5), None, "median; as a PNG has them"),
    ])
}

fn figure(what: &'static str, found: f64, goal: Option<f64>, how: &str) -> Figure {
    Figure { what, found, goal, unit: "ms", how: how.to_owned() }
}

fn changes(_quick: bool, rounds: usize) -> anyhow::Result<Vec<Figure>> {
    let board = barn()?;
    let canvas = Canvas::reusing(PANEL.0, PANEL.1)?;
    let kiosk = Kiosk::new(Settings::default(), Line::nowhere())?;
    kiosk.app().show()?;
    kiosk.hear(board.clone());
    let mut pixels = window();
    let mut draw = || {
        canvas.draw_into(&mut pixels);
    };
    draw();
    let mut laid_out: Vec<f64> = Vec::new();
    for _ in 0..rounds {
        laid_out.push(timed(&mut || kiosk.redraw()));
    }
    // A stall of the page that is up: the first one. How long it took to take the board, and to draw it.
    let changed = |draw: &mut dyn FnMut()| -> (Vec<f64>, Vec<f64>) {
        let one = |round| {
            let mut board = board.clone();
            if let WaterView::Known { percent, .. } = &mut board.stalls[0].water {
                *percent = 40.0 + (round % 2) as f64 * 40.0;
            }
            (timed(&mut || kiosk.hear(board.clone())), timed(&mut || draw()))
        };
        (0..rounds).map(one).unzip()
    };
    let (mut told, mut of_window) = changed(&mut draw);
    let mut pixels = SharedPixelBuffer::<Rgb8Pixel>::new(PANEL.0, PANEL.1);
    let (_, mut of_picture) = changed(&mut || {
        canvas.draw_into(pixels.make_mut_slice());
    });

    let how = "median of the processor's time, into memory";
    Ok(vec![
        figure("changed stall", percentile(&mut of_window, 0.5), Some(0.3), how),
        figure("the same, three bytes a pixel", percentile(&mut of_picture, 0.5), None, "median; as a PNG has them"),
        figure("laying the picture out", percentile(&mut laid_out, 0.5), None, "median; nothing changes"),
        figure("taking a changed board", percentile(&mut told, 0.5), None, "median; laying out and handing over"),
    ])
}

/// A month at the aisle as fast as it goes: a board a minute, alarms that come and go, pages that turn, nights, the picture that
/// walks, and all of it drawn.
fn month(quick: bool, _rounds: usize) -> anyhow::Result<Vec<Figure>> {
    let board = barn()?;
    let canvas = Canvas::reusing(PANEL.0, PANEL.1)?;
    let night = "21:00-6:00".parse().map_err(anyhow::Error::msg)?;
    let kiosk = Kiosk::new(Settings { night, ..Settings::default() }, Line::nowhere())?;
    kiosk.app().show()?;
    let mut pixels = window();
    let minutes = if quick { MONTH / 10 } else { MONTH };
    let own = std::process::id();
    let (mut after_a_day, mut most): (f64, f64) = (0.0, 0.0);
    for minute in 0..minutes {
        let mut now = later(&board, minute)?;
        // An hour with them, an hour without.
        if minute / 60 % 2 == 1 {
            now.alarms.clear();
        }
        kiosk.hear(now);
        canvas.pass(Duration::from_secs(60));
        canvas.draw_into(&mut pixels);
        if minute == DAY {
            after_a_day = resident_mb(own)?;
        }
        if minute > DAY && minute % 60 == 0 {
            most = most.max(resident_mb(own)?);
        }
    }
    let days = minutes / DAY;
    let how = format!("{minutes} boards, {days} days of them, drawn into memory");
    let flat = |what, found| Figure { what, found, goal: Some(1.0), unit: "MB", how: how.clone() };
    Ok(vec![
        flat("memory gained after the first day", resident_mb(own)? - after_a_day),
        flat("the most of it at any hour", most - after_a_day),
    ])
}

/// Milliseconds of the processor's time that this thread has used for it: other programs on the machine do not count.
fn timed<T>(work: &mut impl FnMut() -> T) -> f64 {
    let now = || {
        let used = clock_gettime(ClockId::ThreadCPUTime);
        used.tv_sec as f64 * 1000.0 + used.tv_nsec as f64 / 1_000_000.0
    };
    let began = now();
    work();
    now() - began
}
