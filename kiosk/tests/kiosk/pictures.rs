//! Pictures against those that were looked at and kept. After a change that is meant, make them anew and look at them:
//! `BELLMARE_KEEP_PICTURES=1 cargo test -p bellmare-kiosk pictures`

use std::path::PathBuf;

use bellmare_barn::language::Language;
use bellmare_kiosk::app::{Kiosk, Line, Settings, Up};
use bellmare_kiosk::check::Sign;
use bellmare_kiosk::picture::{Canvas, write_png};
use slint::{ComponentHandle, Rgb8Pixel, SharedPixelBuffer};

use crate::samples;

/// A channel may be off by this much: anti-aliasing differs between processors.
const CHANNEL: u8 = 24;
/// So many pixels of a thousand may be off by more.
const PER_MILLE: usize = 2;

fn check(name: &str, sample: &str, up: Up) {
    check_in(Language::English, name, sample, up);
}

fn check_in(language: Language, name: &str, sample: &str, up: Up) {
    let canvas = Canvas::new(1280, 800).expect("a canvas");
    let settings = Settings { language, ..Settings::default() };
    let kiosk = Kiosk::new(settings, Line::nowhere()).expect("a window");
    kiosk.app().show().expect("shown");
    kiosk.hear(samples::board(sample));
    kiosk.open(up);
    let drawn = canvas.draw();

    if let Err(told) = compare(name, &drawn) {
        panic!("{told}");
    }
}

/// Compares a picture with the one that was kept, or keeps it where that is asked for; says what is wrong.
pub fn compare(name: &str, drawn: &SharedPixelBuffer<Rgb8Pixel>) -> Result<(), String> {
    let kept = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/pictures").join(format!("{name}.png"));
    if std::env::var_os("BELLMARE_KEEP_PICTURES").is_some() {
        std::fs::create_dir_all(kept.parent().expect("a folder")).expect("made");
        write_png(drawn, &kept).expect("written");
        return Ok(());
    }
    let file = std::fs::File::open(&kept).map_err(|error| format!("{}: {error}", kept.display()))?;
    let mut reader = png::Decoder::new(std::io::BufReader::new(file)).read_info().expect("a PNG");
    let mut pixels = vec![0; reader.output_buffer_size().expect("a size")];
    let info = reader.next_frame(&mut pixels).expect("a whole PNG");
    if (info.width, info.height) != (drawn.width(), drawn.height()) {
        return Err(format!(
            "{name}: {} by {} was kept, not {} by {}",
            info.width,
            info.height,
            drawn.width(),
            drawn.height()
        ));
    }
    let off = pixels
        .chunks_exact(3)
        .zip(drawn.as_bytes().chunks_exact(3))
        .filter(|(a, b)| a.iter().zip(*b).any(|(a, b)| a.abs_diff(*b) > CHANNEL))
        .count();
    if off * 1000 <= PER_MILLE * (drawn.width() * drawn.height()) as usize {
        return Ok(());
    }
    let beside = std::env::temp_dir().join(format!("bellmare-{}.png", name.replace('/', "-")));
    write_png(drawn, &beside).expect("written");
    Err(format!("{name}: {off} pixels are off; what was drawn is in {}", beside.display()))
}

#[test]
fn the_aisle_in_the_morning() {
    check("aisle", "morning", Up::Aisle);
}

#[test]
fn a_card_with_stirrups_that_differ() {
    check("card", "morning", Up::card("3"));
}

#[test]
fn a_horse_to_check() {
    check("check", "morning", Up::Check { stall: "3".into(), sign: Sign::Gums });
}

#[test]
fn names_to_sign_in() {
    check("shift", "morning", Up::Shift);
}

#[test]
fn the_aisle_in_spanish() {
    check_in(Language::Spanish, "aisle-es", "morning", Up::Aisle);
}

#[test]
fn a_card_in_spanish() {
    check_in(Language::Spanish, "card-es", "morning", Up::card("3"));
}
