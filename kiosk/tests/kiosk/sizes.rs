//! Sizes against values that were computed elsewhere.

use bellmare_kiosk::sizes::{Panel, Sizes, capital_mm};

const TABLE: &str = include_str!("../reference/visual-angle.csv");

#[test]
fn capital_heights_are_those_of_the_table() {
    let rows = TABLE.lines().filter(|line| line.starts_with(|c: char| c.is_ascii_digit()));
    let mut checked = 0;
    for row in rows {
        let fields: Vec<f32> = row.split(',').map(|field| field.parse().expect("a number")).collect();
        let [distance_m, arcmin, height_mm, nureg_mm, _] = fields[..] else { panic!("five fields: {row}") };
        let ours = capital_mm(distance_m, arcmin);
        // The table is rounded to a thousandth of a millimetre.
        assert!((ours - height_mm).abs() < 0.002, "{row}: {ours}");
        assert!((ours - nureg_mm).abs() < 0.005, "{row}: {ours}");
        checked += 1;
    }
    assert_eq!(checked, 36, "the whole table");
}

#[test]
fn a_font_is_as_readable_as_it_was_made() {
    let panel = Panel::usual(1920.0, 1080.0);
    let sizes = Sizes { panel, distance_m: 3.0 };
    let font = sizes.aisle_font(16.0);
    assert!((sizes.readable_from_m(font) - 3.0).abs() < 0.01);
    // 21.5 inch, 16:9: 476 mm across; capitals of 13.96 mm.
    assert!((panel.width_mm - 476.0).abs() < 1.0, "{}", panel.width_mm);
    let capital_mm = font * 0.668 / panel.px_per_mm();
    assert!((capital_mm - 13.963).abs() < 0.01, "{capital_mm}");
}

#[test]
fn small_panels_are_read_from_nearer() {
    let distance = |w, h| Panel::usual(w, h).usual_distance_m();
    assert_eq!(distance(1920.0, 1080.0), 3.0);
    assert!((distance(1280.0, 800.0) - 1.54).abs() < 0.01);
    assert!((distance(800.0, 480.0) - 1.07).abs() < 0.01);
    assert_eq!(distance(800.0, 1280.0), distance(1280.0, 800.0));
}
