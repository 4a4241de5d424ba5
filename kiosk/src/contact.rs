//! The contact sheet: every screen at every size, in every language, by day and by night, small and side by side, so that a
//! change of looks is seen everywhere at once. A row is one size, language and light; its pictures are the screens in their order.

use anyhow::Context;
use bellmare_barn::board::Board;
use clap::{Parser, ValueEnum};
use slint::{Rgb8Pixel, SharedPixelBuffer};

use crate::cli::{Cli, Drawn};
use crate::run::drawn;

/// A picture.
pub type Pixels = SharedPixelBuffer<Rgb8Pixel>;

/// The panels: 21, 10 and 7 inch, and 10 inch the other way up.
pub const SIZES: [(u32, u32); 4] = [(1920, 1080), (1280, 800), (800, 480), (800, 1280)];
/// Between two pictures, in pixels.
const GAP: u32 = 4;
const BEHIND: Rgb8Pixel = Rgb8Pixel { r: 0x80, g: 0x80, b: 0x80 };

/// A row of the sheet.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Row {
    /// Width and height in pixels.
    pub size: (u32, u32),
    /// english or spanish.
    pub language: &'static str,
    /// True by night: the aisle is dim, all other screens are awake.
    pub night: bool,
}

impl Row {
    /// What it is called, as a part of a file's name.
    pub fn name(&self) -> String {
        let (width, height) = self.size;
        format!("{width}x{height}-{}-{}", self.language, if self.night { "night" } else { "day" })
    }
}

/// All rows, from the top.
pub fn rows() -> Vec<Row> {
    let mut rows = Vec::new();
    for size in SIZES {
        for language in ["english", "spanish"] {
            rows.extend([false, true].map(|night| Row { size, language, night }));
        }
    }
    rows
}

/// The names of the screens, from the left.
pub fn screens() -> Vec<String> {
    let names = Drawn::value_variants().iter().filter_map(ValueEnum::to_possible_value);
    names.map(|name| name.get_name().to_owned()).collect()
}

/// Draws a row of small pictures of that width; each screen on a thread of its own, for each has a window of its own.
///
/// # Errors
/// Where a screen can not be drawn: says which.
pub fn draw(row: Row, board: &Board, width_px: u32) -> anyhow::Result<Pixels> {
    let (width, height) = row.size;
    let height_px = height * width_px / width;
    let mut pictures = Vec::new();
    for screen in screens() {
        let (board, size) = (board.clone(), format!("{width}x{height}"));
        let stall = stall(&board).context("the board has no horse that is ridden")?;
        let night = if row.night { "always" } else { "never" };
        let what = format!("{} {screen}", row.name());
        let arguments = [
            ["--picture", "-"],
            ["--board", "-"],
            ["--size", &size],
            ["--screen", &screen],
            ["--stall", &stall],
            ["--language", row.language],
            ["--night", night],
        ];
        let cli = Cli::try_parse_from(std::iter::once("kiosk").chain(arguments.into_iter().flatten()))?;
        let small = move || drawn(&cli, board).map(|picture| shrink(&picture, width_px, height_px));
        let drawn = std::thread::spawn(small).join().map_err(|_| anyhow::anyhow!("{what}: drawing it went wrong"))?;
        pictures.push(drawn.map_err(|stopped| anyhow::anyhow!("{what}: {stopped}"))?);
    }
    Ok(side_by_side(&pictures))
}

/// The same without its colours: each pixel as light as the eye takes it (Rec. 709).
pub fn grey(picture: &Pixels) -> Pixels {
    let mut grey = picture.clone();
    for pixel in grey.make_mut_slice() {
        let light = lightness(*pixel);
        *pixel = Rgb8Pixel { r: light, g: light, b: light };
    }
    grey
}

/// How light a pixel is, 0 to 255.
pub fn lightness(pixel: Rgb8Pixel) -> u8 {
    let [r, g, b] = [pixel.r, pixel.g, pixel.b].map(f32::from);
    (0.2126 * r + 0.7152 * g + 0.0722 * b).round() as u8
}

/// One above the other.
pub fn stack(rows: &[Pixels]) -> Pixels {
    let width = rows.iter().map(Pixels::width).max().unwrap_or(1);
    let height: u32 = rows.iter().map(|row| row.height() + GAP).sum();
    let mut sheet = blank(width, height);
    let mut y = 0;
    for row in rows {
        place(&mut sheet, row, 0, y);
        y += row.height() + GAP;
    }
    sheet
}

fn stall(board: &Board) -> Option<String> {
    let ridden = |horse: &bellmare_barn::board::HorseView| !horse.rides.is_empty();
    let stall = board.stalls.iter().find(|stall| stall.horse.as_ref().is_some_and(ridden))?;
    Some(stall.id.to_string())
}

fn side_by_side(pictures: &[Pixels]) -> Pixels {
    let width: u32 = pictures.iter().map(|picture| picture.width() + GAP).sum();
    let mut row = blank(width, pictures.first().map_or(1, Pixels::height));
    let mut x = 0;
    for picture in pictures {
        place(&mut row, picture, x, 0);
        x += picture.width() + GAP;
    }
    row
}

fn blank(width: u32, height: u32) -> Pixels {
    let mut pixels = Pixels::new(width, height);
    pixels.make_mut_slice().fill(BEHIND);
    pixels
}

fn place(onto: &mut Pixels, picture: &Pixels, x: u32, y: u32) {
    let (width, from) = (picture.width() as usize, onto.width() as usize);
    for (line, pixels) in picture.as_slice().chunks_exact(width).enumerate() {
        let at = (y as usize + line) * from + x as usize;
        onto.make_mut_slice()[at..at + width].copy_from_slice(pixels);
    }
}

/// Each pixel the mean of those that it stands for.
fn shrink(picture: &Pixels, width: u32, height: u32) -> Pixels {
    let mut small = Pixels::new(width, height);
    let (from_w, from_h) = (picture.width(), picture.height());
    let pixels = picture.as_slice();
    for (at, pixel) in small.make_mut_slice().iter_mut().enumerate() {
        let (x, y) = (at as u32 % width, at as u32 / width);
        let span = |at: u32, of: u32, whole: u32| at * whole / of..((at + 1) * whole / of).max(at * whole / of + 1);
        let (mut sum, mut count) = ([0u32; 3], 0);
        for line in span(y, height, from_h) {
            for column in span(x, width, from_w) {
                let one = pixels[(line * from_w + column) as usize];
                sum = [sum[0] + u32::from(one.r), sum[1] + u32::from(one.g), sum[2] + u32::from(one.b)];
                count += 1;
            }
        }
        let [r, g, b] = sum.map(|sum| (sum / count) as u8);
        *pixel = Rgb8Pixel { r, g, b };
    }
    small
}
