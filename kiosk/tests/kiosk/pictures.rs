//! Pictures against those that were looked at and kept. After a change that is meant, make them anew and look at them:
//! `BELLMARE_KEEP_PICTURES=1 cargo test -p bellmare-kiosk pictures`

use std::path::PathBuf;

use bellmare_kiosk::app::{Kiosk, Settings, Up};
use bellmare_kiosk::check::Sign;
use bellmare_kiosk::people::Asked;
use bellmare_kiosk::picture::{Canvas, write_png};
use slint::ComponentHandle;

use crate::samples;

/// A channel may be off by this much: anti-aliasing differs between processors.
const CHANNEL: u8 = 24;
/// So many pixels of a thousand may be off by more.
const PER_MILLE: usize = 2;

fn check(name: &str, sample: &str, up: Up) {
    let canvas = Canvas::new(1280, 800).expect("a canvas");
    let kiosk = Kiosk::new(Settings::default(), Box::new(|_| true)).expect("a window");
    kiosk.app().show().expect("shown");
    kiosk.hear(samples::board(sample));
    kiosk.open(up);
    let drawn = canvas.draw();

    let kept = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/pictures").join(format!("{name}.png"));
    if std::env::var_os("BELLMARE_KEEP_PICTURES").is_some() {
        write_png(&drawn, &kept).expect("written");
        return;
    }
    let file = std::fs::File::open(&kept).expect("a kept picture");
    let mut reader = png::Decoder::new(std::io::BufReader::new(file)).read_info().expect("a PNG");
    let mut pixels = vec![0; reader.output_buffer_size().expect("a size")];
    let info = reader.next_frame(&mut pixels).expect("a whole PNG");
    assert_eq!((info.width, info.height), (drawn.width(), drawn.height()), "{name}");
    let off = pixels
        .chunks_exact(3)
        .zip(drawn.as_bytes().chunks_exact(3))
        .filter(|(a, b)| a.iter().zip(*b).any(|(a, b)| a.abs_diff(*b) > CHANNEL))
        .count();
    if off * 1000 > PER_MILLE * 1280 * 800 {
        let beside = std::env::temp_dir().join(format!("bellmare-{name}.png"));
        write_png(&drawn, &beside).expect("written");
        panic!("{name}: {off} pixels are off; what was drawn is in {}", beside.display());
    }
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
    check("sign-in", "morning", Up::People { asked: Asked::SignIn, page: 0 });
}
