//! What a picture keeps without its colours, and with names that are long or of other scripts.

use bellmare_barn::board::Board;
use bellmare_barn::language::Language;
use bellmare_kiosk::aisle::{View, picture};
use bellmare_kiosk::app::{Kiosk, Line, Settings, Up, sizes};
use bellmare_kiosk::picture::Canvas;
use bellmare_kiosk::text::{self, Weight};
use slint::{ComponentHandle, Rgb8Pixel, SharedPixelBuffer};

use crate::samples;

/// Names as they come: long, and in scripts that are read in barns.
const NAMES: [&str; 6] =
    ["Wilhelmina of the Long Meadow", "Ζέφυρος", "Буран", "Żółta Błyskawica", "Nguyễn Thị Ánh", "Señor Ñandú"];

fn named() -> Board {
    let mut board = samples::board("morning");
    let horses = board.stalls.iter_mut().filter_map(|stall| stall.horse.as_mut());
    for (horse, name) in horses.zip(NAMES.iter().cycle()) {
        horse.name = (*name).to_owned();
    }
    board
}

fn draw(board: Board, up: Up) -> SharedPixelBuffer<Rgb8Pixel> {
    let canvas = Canvas::new(1280, 800).expect("a canvas");
    let kiosk = Kiosk::new(Settings::default(), Line::nowhere()).expect("a window");
    kiosk.app().show().expect("shown");
    kiosk.hear(board);
    kiosk.open(up);
    canvas.draw()
}

#[test]
fn long_and_foreign_names_fit_where_they_stand() {
    let board = named();
    for (width, height) in [(1920.0, 1080.0), (1280.0, 800.0), (800.0, 480.0), (800.0, 1280.0)] {
        let sizes = sizes(&Settings::default(), width, height);
        let scene = |turn| {
            let view = View { board: &board, sizes, aisle: None, turn, silent_s: None, language: Language::English };
            picture(&view)
        };
        for turn in 0..scene(0).pages {
            for cell in scene(turn).cells.iter().filter(|cell| cell.loud) {
                let name = text::width(&cell.name, cell.name_px, Weight::Bold);
                assert!(name < cell.rect.w, "{width}x{height}: {} is {name} px wide in {:?}", cell.name, cell.rect);
            }
        }
    }
}

#[test]
fn every_letter_of_a_name_is_drawn_and_not_a_box() {
    // The same box stands for every letter that no font has: two names of as many such letters look alike.
    let head = |name: &str| {
        let mut board = samples::board("morning");
        board.stalls[2].horse.as_mut().expect("Pepper").name = name.to_owned();
        let pixels = std::thread::spawn(move || draw(board, Up::card("3"))).join().expect("drawn");
        pixels.as_slice()[..1280 * 70].to_vec()
    };
    for (a, b) in [("Бура", "Дзжы"), ("Ζέφυ", "Πρβχ"), ("ễữậổ", "ợẵệỷ")] {
        let (first, second) = (head(a), head(b));
        let off = first.iter().zip(&second).filter(|(a, b)| a != b).count();
        assert!(off > 300, "{a} and {b} differ in {off} pixels only");
    }
}

/// Light as the eye takes it, 0 to 255.
fn grey(pixel: &Rgb8Pixel) -> f64 {
    0.2126 * f64::from(pixel.r) + 0.7152 * f64::from(pixel.g) + 0.0722 * f64::from(pixel.b)
}

#[test]
fn states_differ_in_grey() {
    // Each pair of states of one stall, drawn and compared without colour.
    let stall = |change: fn(&mut Board)| {
        let mut board = samples::board("morning");
        change(&mut board);
        std::thread::spawn(move || draw(board, Up::Aisle)).join().expect("drawn")
    };
    use bellmare_barn::board::{WaterState, WaterView};
    fn water(board: &mut Board, state: WaterState, percent: f64) {
        for stall in &mut board.stalls {
            if let WaterView::Known { state: was, percent: level, .. } = &mut stall.water {
                (*was, *level) = (state, percent);
            }
        }
    }
    let pictures = [
        ("enough", stall(|board| water(board, WaterState::Enough, 60.0))),
        ("low", stall(|board| water(board, WaterState::Low, 20.0))),
        ("empty", stall(|board| water(board, WaterState::Empty, 0.0))),
        ("not known", stall(|board| board.stalls.iter_mut().for_each(|stall| stall.water = WaterView::NeverHeard))),
    ];
    for (at, (a, first)) in pictures.iter().enumerate() {
        for (b, second) in &pictures[at + 1..] {
            let pairs = first.as_slice().iter().zip(second.as_slice());
            let off = pairs.filter(|(one, other)| (grey(one) - grey(other)).abs() > 40.0).count();
            assert!(off > 2000, "{a} and {b} differ in {off} pixels in grey");
        }
    }
}
