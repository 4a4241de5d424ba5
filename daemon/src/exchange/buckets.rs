//! The file of vessels: those that stalls.csv can not write down, as they are not round, and those that stand somewhere else.
//! A row without a name is a stall's own bucket, whose sensor bears the stall's name.

use std::collections::{BTreeMap, BTreeSet};

use bellmare_barn::book::{Book, Bucket, Gauge, Shape, Vessel, WaterPlace};
use bellmare_barn::id::{BucketId, PlaceId, StallId};
use bellmare_barn::units::{Litres, Millimetres};
use bellmare_barn::water::vessel;

use super::cells::{Cells, ID_CHARS};
use super::columns::BUCKETS;
use super::faults::Faults;
use super::reader::{Known, LOOKS, Looks, each};
use super::sheet::Sheet;

/// Shapes, and the columns that each is measured with.
pub(super) const SHAPES: &[(&str, &[&str])] = &[
    ("round", &["bottom_mm", "top_mm", "height_mm"]),
    ("flat_back", &["bottom_mm", "top_mm", "depth_mm", "height_mm"]),
    ("trough", &["length_mm", "width_mm", "bottom_length_mm", "bottom_width_mm", "height_mm"]),
    ("drum", &["length_mm", "height_mm"]),
    ("table", &["table"]),
];
/// All of these columns, as they stand in the file.
fn measures() -> impl Iterator<Item = &'static str> {
    let measure = |column: &&&str| SHAPES.iter().any(|(_, columns)| columns.contains(column));
    BUCKETS.columns.iter().filter(measure).copied()
}
/// Rows of a table.
const TABLE_ROWS: usize = 200;

pub(super) fn read_buckets(sheet: Option<&Sheet>, faults: &mut Faults, book: &mut Book, stalls: &Known) {
    let mut named: BTreeMap<String, usize> = BTreeMap::new();
    let mut own: BTreeSet<StallId> = BTreeSet::new();
    each(sheet, faults, |cells| {
        if cells.row.ragged {
            return None;
        }
        let name = cells.perhaps("bucket", |cells, column| {
            let name = cells.id(column)?;
            // It becomes a level of an MQTT topic.
            if name.contains(['/', '+', '#']) {
                cells.refuse(column, "a name without / + #");
                return None;
            }
            if let Some(line) = named.insert(name.clone(), cells.row.line) {
                cells.refuse(column, format!("each name once; line {line} has it too"));
                return None;
            }
            Some(BucketId::new(name))
        });
        let at = place(cells, stalls);
        let vessel = shape(cells).and_then(|shape| {
            let height = Some(vessel::top(&shape).get());
            let gauge = gauge(cells, height, ["height_mm", "sensor_looks", "sensor_empty_mm"])?;
            Some(Vessel { shape, gauge })
        });
        let (name, at, vessel) = (name?, at?, vessel?);
        match (name, at) {
            (Some(id), at) => book.buckets.push(Bucket { id, at, vessel }),
            (None, WaterPlace::Paddock(_)) => {
                cells.refuse("bucket", "a name: only a stall's own bucket has none");
            }
            (None, WaterPlace::Stall(id)) => {
                // A stall that is not there was said already.
                let stall = book.stalls.iter_mut().find(|stall| stall.id == id)?;
                if stall.vessel.is_some() || !own.insert(id) {
                    cells.refuse("bucket", "a name: the stall has a bucket of its own already");
                } else {
                    stall.vessel = Some(vessel);
                }
            }
        }
        Some(())
    });
}

/// Where it stands: a stall or a paddock, and not both.
fn place(cells: &mut Cells, stalls: &Known) -> Option<WaterPlace> {
    match (cells.is_empty("stall"), cells.is_empty("paddock")) {
        (false, true) => stalls.refer(cells, "stall").map(|id| WaterPlace::Stall(StallId::new(id))),
        (true, false) => cells.filled("paddock", ID_CHARS).map(|name| WaterPlace::Paddock(PlaceId::new(name))),
        (true, true) => {
            cells.refuse("stall", "a stall, or else a paddock in the column paddock");
            None
        }
        (false, false) => {
            cells.refuse("paddock", "nothing, as the bucket stands in a stall");
            None
        }
    }
}

fn shape(cells: &mut Cells) -> Option<Shape> {
    let words: Vec<(&'static str, usize)> = SHAPES.iter().enumerate().map(|(n, (word, _))| (*word, n)).collect();
    let (word, columns) = SHAPES[cells.choice("shape", &words)?];
    for column in measures().filter(|column| !columns.contains(column)) {
        if !cells.is_empty(column) {
            cells.refuse(column, format!("nothing: {word} is measured by {}", columns.join(", ")));
        }
    }
    let mut mm = |column| cells.decimal(column, 30.0..=6000.0).map(Millimetres);
    let shape = match word {
        "round" => {
            let (bottom, top, height) = (mm("bottom_mm"), mm("top_mm"), mm("height_mm"));
            Shape::Round { bottom: bottom?, top: top?, height: height? }
        }
        "flat_back" => {
            let (bottom, top, depth, height) = (mm("bottom_mm"), mm("top_mm"), mm("depth_mm"), mm("height_mm"));
            Shape::FlatBack { bottom: bottom?, top: top?, depth: depth?, height: height? }
        }
        "trough" => {
            let (length, width, height) = (mm("length_mm"), mm("width_mm"), mm("height_mm"));
            // Straight walls need not be measured twice.
            let read = |cells: &mut Cells, column: &'static str| cells.decimal(column, 30.0..=6000.0).map(Millimetres);
            let (below, beside) = (cells.perhaps("bottom_length_mm", read), cells.perhaps("bottom_width_mm", read));
            Shape::Trough {
                bottom_length: below?.or(length)?,
                bottom_width: beside?.or(width)?,
                top_length: length?,
                top_width: width?,
                height: height?,
            }
        }
        "drum" => {
            let (long, across) = (mm("length_mm"), mm("height_mm"));
            Shape::Drum { across: across?, long: long? }
        }
        _ => Shape::Table { table: table(cells)? },
    };
    let vessel = Vessel { shape, gauge: Gauge::Up { at_bottom: Millimetres(0.0) } };
    if let Err(why) = vessel::full(&vessel) {
        cells.refuse("shape", why.to_string());
        return None;
    }
    Some(vessel.shape)
}

/// `0=0; 100=5.2; 305=18.5`: levels in millimetres and their litres.
fn table(cells: &mut Cells) -> Option<Vec<(Millimetres, Litres)>> {
    let text = cells.filled("table", 4000)?;
    let row = |row: &str| {
        let (level, litres) = row.split_once('=')?;
        let number = |text: &str| text.trim().parse::<f64>().ok().filter(|number| (0.0..=10_000.0).contains(number));
        Some((Millimetres(number(level)?), Litres(number(litres)?)))
    };
    let rows: Option<Vec<_>> = text.split(';').map(row).collect();
    if rows.as_ref().is_none_or(|rows| !(2..=TABLE_ROWS).contains(&rows.len())) {
        cells.refuse(
            "table",
            format!("2 to {TABLE_ROWS} levels in mm with their litres, such as 0=0; 100=5.2; 305=18.5"),
        );
        return None;
    }
    rows
}

/// How the sensor looks at the water, by the columns of the vessel's height, of which way it looks, and of what it reads
/// when the vessel is empty.
pub(super) fn gauge(cells: &mut Cells, height: Option<f64>, columns: [&'static str; 3]) -> Option<Gauge> {
    let [tall, looks, reads] = columns;
    let looks = if cells.is_empty(looks) { None } else { cells.choice(looks, LOOKS) };
    let empty = if cells.is_empty(reads) { None } else { cells.decimal(reads, 0.0..=5000.0) };
    let (height, empty) = (height?, empty?);
    match looks? {
        // From above it reads the distance to the water: to the bottom it is further than the vessel is high.
        Looks::Down if empty < height => {
            cells.refuse(reads, format!("{height} ({tall}) to 5000 for a sensor that looks down"));
            None
        }
        Looks::Up if empty > 1000.0 => {
            cells.refuse(reads, "0 to 1000 for a sensor that looks up");
            None
        }
        Looks::Down => Some(Gauge::Down { to_bottom: Millimetres(empty) }),
        Looks::Up => Some(Gauge::Up { at_bottom: Millimetres(empty) }),
    }
}
