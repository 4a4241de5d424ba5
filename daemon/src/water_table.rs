//! `water-table`: litres by level for a vessel, for whoever wants to hold it against a bucket and a measuring jug.

use std::path::Path;

use anyhow::{Context, bail};
use bellmare_barn::book::{Gauge, Vessel};
use bellmare_barn::units::Millimetres;
use bellmare_barn::water::vessel;
use bellmare_hub::exchange;

/// The table of the vessel of that name in a folder of CSV files: a stall's own bucket by the name of the stall, another by
/// its own. Rows are `step` millimetres apart.
///
/// # Errors
/// Where the folder is no book, or has no such vessel.
pub(crate) fn water_table(dir: &Path, name: &str, step: f64) -> anyhow::Result<String> {
    let book = match exchange::look_at_book(dir).book {
        Ok(book) => book,
        Err(faults) => {
            eprintln!("{}", exchange::report(&faults));
            bail!("the book in {} has faults", dir.display());
        }
    };
    let own = book.stalls.iter().filter_map(|stall| Some((stall.id.as_str(), stall.vessel.as_ref()?)));
    let others = book.buckets.iter().map(|bucket| (bucket.id.as_str(), &bucket.vessel));
    let all: Vec<(&str, &Vessel)> = own.chain(others).collect();
    let (_, vessel) = all.iter().find(|(known, _)| *known == name).with_context(|| {
        let names: Vec<&str> = all.iter().map(|(known, _)| *known).collect();
        format!("the book has no vessel {name:?}: allowed is one of {}", names.join(", "))
    })?;
    table(vessel, step)
}

fn table(of: &Vessel, step: f64) -> anyhow::Result<String> {
    let full = vessel::full(of)?;
    let top = vessel::top(&of.shape).get();
    let mut page = format!("{:>9} {:>9} {:>8} {:>8} {:>7}\n", "level mm", "reads mm", "L", "US gal", "%");
    let rows = (top / step).ceil() as u32;
    for height in (0..=rows).map(|row| (f64::from(row) * step).min(top)) {
        let level = vessel::at(of, Millimetres(height));
        let reads = match of.gauge {
            Gauge::Down { to_bottom } => to_bottom.get() - height,
            Gauge::Up { at_bottom } => at_bottom.get() + height,
        };
        let (litres, gallons, percent) = (level.litres.get(), level.litres.us_gallons(), level.percent.get());
        page += &format!("{height:>9.0} {reads:>9.0} {litres:>8.2} {gallons:>8.2} {percent:>7.1}\n");
    }
    page += &format!("full: {:.2} L, {:.2} US gallons\n", full.get(), full.us_gallons());
    Ok(page)
}

#[cfg(test)]
mod tests {
    use bellmare_barn::book::Shape;

    use super::*;

    #[test]
    fn a_drum_on_its_side_by_tenths() {
        let shape = Shape::Drum { across: Millimetres(600.0), long: Millimetres(900.0) };
        let drum = Vessel { shape, gauge: Gauge::Down { to_bottom: Millimetres(700.0) } };
        let page = table(&drum, 150.0).expect("a drum");
        // Segments of a circle: none, 0.19550, a half, 0.80450 and all of 254.469 L.
        let rows: Vec<Vec<&str>> = page.lines().map(|line| line.split_whitespace().collect()).collect();
        assert_eq!(rows[1], ["0", "700", "0.00", "0.00", "0.0"]);
        assert_eq!(rows[2], ["150", "550", "49.75", "13.14", "19.6"]);
        assert_eq!(rows[3], ["300", "400", "127.23", "33.61", "50.0"]);
        assert_eq!(rows[5], ["600", "100", "254.47", "67.22", "100.0"]);
        assert_eq!(rows.len(), 7);
    }
}
