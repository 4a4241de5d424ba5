//! Every screen at every size, in both languages, by day and by night, small, against the rows that were looked at and kept.
//! After a change that is meant: `BELLMARE_KEEP_PICTURES=1 cargo test -p bellmare-kiosk contact`, then look at
//! `tests/contact-sheet OUT.png`.

use bellmare_kiosk::contact::{draw, rows};

use crate::pictures::compare;
use crate::samples;

/// Width of a small picture in pixels.
const WIDTH: u32 = 160;

#[test]
fn every_screen_looks_as_it_was_kept() {
    let board = samples::board("whole");
    let wrong: Vec<String> = rows()
        .into_iter()
        .filter_map(|row| {
            let pictures = draw(row, &board, WIDTH).expect("drawn");
            compare(&format!("contact/{}", row.name()), &pictures).err()
        })
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
