//! All states are told without colour. Pictures are taken in grey and their *edges* compared: where light and dark meet. Two
//! states that differ by nothing but a colour, or by how light it is, have their edges in the same places; two that differ by a
//! shape or a word have not.

mod states;

use bellmare_kiosk::aisle::frame::Rect;
use bellmare_kiosk::app::{Kiosk, Line, Settings, Up};
use bellmare_kiosk::contact::{SIZES, lightness};
use bellmare_kiosk::glass::Night;
use bellmare_kiosk::picture::Canvas;
use bellmare_kiosk::ui::{Screen, Screens, Sheet, SheetWords, Tone};
use clap::Parser;
use slint::{ComponentHandle, Rgb8Pixel, SharedPixelBuffer};

use bellmare_kiosk::cli::Cli;

use crate::samples;

/// Where two neighbours differ by more than this of 255 there is an edge.
const EDGE: u8 = 10;
/// An edge may lie so many pixels off and be the same: anti-aliasing and rounding.
const NEAR: usize = 2;
/// So many pixels of edges that the other has not are a difference that is seen.
const SEEN: usize = 14;

/// A piece of a picture, in grey.
struct Crop {
    width: usize,
    height: usize,
    light: Vec<u8>,
}

impl Crop {
    fn of(picture: &SharedPixelBuffer<Rgb8Pixel>, rect: Rect) -> Self {
        let limit = |value: f32, most: u32| (value.round().max(0.0) as usize).min(most as usize);
        let (x, right) = (limit(rect.x, picture.width()), limit(rect.right(), picture.width()));
        let (y, bottom) = (limit(rect.y, picture.height()), limit(rect.bottom(), picture.height()));
        let from = picture.width() as usize;
        let row = |y: usize| picture.as_slice()[y * from + x..y * from + right].iter().map(|pixel| lightness(*pixel));
        Self { width: right - x, height: bottom - y, light: (y..bottom).flat_map(row).collect() }
    }

    fn edges(&self) -> Vec<bool> {
        let at = |x: usize, y: usize| self.light[y * self.width + x];
        let mut edges = vec![false; self.light.len()];
        for y in 0..self.height.saturating_sub(1) {
            for x in 0..self.width.saturating_sub(1) {
                let here = at(x, y);
                edges[y * self.width + x] = here.abs_diff(at(x + 1, y)) > EDGE || here.abs_diff(at(x, y + 1)) > EDGE;
            }
        }
        edges
    }
}

/// How many pixels of edges either has where the other has none near; of pieces that are not as large, how much that is.
fn apart(a: &Crop, b: &Crop) -> usize {
    if (a.width, a.height) != (b.width, b.height) {
        return a.width.abs_diff(b.width) + a.height.abs_diff(b.height) + SEEN;
    }
    let (width, height) = (a.width, a.height);
    let (a, b) = (a.edges(), b.edges());
    let near = |edges: &[bool], at: usize| {
        let (x, y) = (at % width, at / width);
        let rows = y.saturating_sub(NEAR)..(y + NEAR + 1).min(height);
        rows.into_iter().any(|y| {
            let row = &edges[y * width + x.saturating_sub(NEAR)..y * width + (x + NEAR + 1).min(width)];
            row.contains(&true)
        })
    };
    let alone = |of: &[bool], other: &[bool]| (0..of.len()).filter(|at| of[*at] && !near(other, *at)).count();
    alone(&a, &b) + alone(&b, &a)
}

/// Every two of them must be told apart.
fn all_apart(what: &str, light: Light, crops: &[(String, Crop)]) {
    for (at, (a, first)) in crops.iter().enumerate() {
        for (b, second) in &crops[at + 1..] {
            let seen = apart(first, second);
            assert!(seen >= SEEN, "{what} by {light:?}: \"{a}\" and \"{b}\" differ by {seen} pixels of edges in grey");
        }
    }
}

/// The palettes; the last is the night's while nobody stands there, when the aisle is up.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Light {
    Day,
    Night,
    Dim,
}

/// A glass of this test's own thread.
struct Glass {
    canvas: Canvas,
    kiosk: std::rc::Rc<Kiosk>,
    light: Light,
}

impl Glass {
    fn new(light: Light, (width, height): (u32, u32)) -> Self {
        let canvas = Canvas::new(width, height).expect("a canvas");
        let night = if light == Light::Day { Night::Never } else { Night::Always };
        let kiosk = Kiosk::new(Settings { night, ..Settings::default() }, Line::nowhere()).expect("a window");
        kiosk.app().show().expect("shown");
        Self { canvas, kiosk, light }
    }

    fn draw(&self, up: Up) -> SharedPixelBuffer<Rgb8Pixel> {
        // To open a screen is a touch, which wakes it.
        if self.light != Light::Dim {
            self.kiosk.open(up);
        }
        self.canvas.draw()
    }
}

/// Does it in each palette, each on a thread of its own: one platform to a thread.
fn in_each_light(lights: &[Light], size: (u32, u32), check: fn(&Glass)) {
    let threads: Vec<_> = lights
        .iter()
        .map(|light| (*light, *light))
        .map(|(name, light)| (name, std::thread::spawn(move || check(&Glass::new(light, size)))))
        .collect();
    for (light, thread) in threads {
        assert!(thread.join().is_ok(), "by {light:?}");
    }
}

const ALL: [Light; 3] = [Light::Day, Light::Night, Light::Dim];
const AT_ARMS_LENGTH: [Light; 2] = [Light::Day, Light::Night];

/// A page with nothing but a tone's shape.
fn shape(glass: &Glass, tone: Tone) -> Crop {
    let app = glass.kiosk.app();
    let head = bellmare_kiosk::ui::Box { x: 20.0, y: 20.0, w: 700.0, h: 60.0 };
    let words = SheetWords { tone, base: 24.0, title_px: 42.0, head, ..SheetWords::default() };
    app.global::<Sheet>().set_words(words);
    app.global::<Sheet>().set_items(slint::ModelRc::default());
    app.global::<Screens>().set_current(Screen::Sheet);
    Crop::of(&glass.canvas.draw(), Rect::new(14.0, 14.0, 56.0, 60.0))
}

const TONES: [Tone; 15] = [
    Tone::Ready,
    Tone::Unknown,
    Tone::Mind,
    Tone::Now,
    Tone::Low,
    Tone::Battery,
    Tone::Hot,
    Tone::Cold,
    Tone::Care,
    Tone::Late,
    Tone::Critical,
    Tone::Fault,
    Tone::Alarm,
    Tone::Vet,
    Tone::Stop,
];

#[test]
fn each_tone_has_a_shape_that_no_other_has() {
    in_each_light(&AT_ARMS_LENGTH, (800, 480), |glass| {
        glass.kiosk.hear(samples::board("whole"));
        let shapes: Vec<_> = TONES.into_iter().map(|tone| (format!("{tone:?}"), shape(glass, tone))).collect();
        all_apart("shapes", glass.light, &shapes);
    });
}

#[test]
fn what_differs_by_a_colour_alone_is_not_taken_for_apart() {
    // The same picture by day and by night, and a shape in two fills: the measure itself.
    in_each_light(&[Light::Day], (800, 480), |glass| {
        let mut picture = SharedPixelBuffer::<Rgb8Pixel>::new(100, 100);
        let mut disc = |fill: [u8; 3]| {
            for (at, pixel) in picture.make_mut_slice().iter_mut().enumerate() {
                let (x, y) = (at as f32 % 100.0 - 50.0, (at / 100) as f32 - 50.0);
                let [r, g, b] = match x.hypot(y) {
                    r if r < 30.0 => fill,
                    r if r < 33.0 => [0, 0, 0],
                    _ => [255, 255, 255],
                };
                *pixel = Rgb8Pixel { r, g, b };
            }
            Crop::of(&picture, Rect::new(0.0, 0.0, 100.0, 100.0))
        };
        let (orange, vermilion, dark) = (disc([230, 159, 0]), disc([213, 94, 0]), disc([40, 40, 40]));
        assert_eq!(apart(&orange, &vermilion), 0);
        assert!(apart(&orange, &dark) < SEEN, "only lighter");
        assert!(apart(&shape(glass, Tone::Alarm), &shape(glass, Tone::Low)) >= SEEN);
    });
}

/// Pixels where two neighbours differ clearly in colour and not at all in light.
fn lost_in_grey(picture: &SharedPixelBuffer<Rgb8Pixel>) -> usize {
    let width = picture.width() as usize;
    let differs = |a: &Rgb8Pixel, b: &Rgb8Pixel| {
        let off = a.r.abs_diff(b.r).max(a.g.abs_diff(b.g)).max(a.b.abs_diff(b.b));
        off > 60 && lightness(*a).abs_diff(lightness(*b)) < 6
    };
    let pixels = picture.as_slice();
    let beside = |at: &usize| at % width + 1 < width && differs(&pixels[*at], &pixels[at + 1]);
    let below = |at: &usize| pixels.get(at + width).is_some_and(|other| differs(&pixels[*at], other));
    (0..pixels.len()).filter(|at| beside(at) || below(at)).count()
}

#[test]
fn no_edge_of_any_screen_is_lost_in_grey() {
    let board = samples::board("whole");
    for (width, height) in SIZES {
        for night in ["never", "always"] {
            for screen in bellmare_kiosk::contact::screens() {
                let size = format!("{width}x{height}");
                let arguments =
                    ["kiosk", "--picture", "-", "--size", &size, "--screen", &screen, "--stall", "3", "--night", night];
                let cli = Cli::try_parse_from(arguments).expect("arguments");
                let board = board.clone();
                let draw = move || bellmare_kiosk::run::drawn(&cli, board).map_err(|stopped| stopped.to_string());
                let picture = std::thread::spawn(draw).join().expect("drawn").expect("a screen");
                let lost = lost_in_grey(&picture);
                // Letters are smoothed: a pixel here and there between two colours is as light as either.
                let most = (width * height / 20_000) as usize;
                assert!(lost <= most, "{screen} at {size}, night {night}: {lost} pixels of edges are lost in grey");
            }
        }
    }
}
