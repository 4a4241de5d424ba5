//! What a picture does with names that are long or of other scripts.

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
