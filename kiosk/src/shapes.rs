//! The screens' shapes as pixels: the bucket, the links, and a shape for each tone. Each is drawn once in its size and colours
//! and kept, because a picture of forty stalls has hundreds of them and the software renderer would rasterise every path anew each
//! time. It knows no board and no words.
//!
//! Paths are in a field of 100 by 100, as SVG has them; the links are in pixels.

mod glyphs;
mod paint;

use std::cell::RefCell;
use std::collections::HashMap;
use std::rc::Rc;

use slint::{Color, ComponentHandle, Image};

use crate::ui::{self, App, Link, LinkColours, Tone, Vessel};
use paint::{Layer, Paint, opaque, see_through};

/// So many pixels are kept at most; then all are made anew as they are asked for. What is on the screen is held by it.
const MOST_PIXELS: usize = 200_000;

/// What a shape is drawn from.
#[derive(Clone, PartialEq, Eq, Hash, Debug)]
enum What {
    Glyph { tone: u8 },
    Bucket { vessel: u8, level_px: u32 },
    Links { marks: [u8; 3] },
}

/// A shape in a size in pixels and in its colours.
#[derive(Clone, PartialEq, Eq, Hash, Debug)]
struct Key {
    what: What,
    size: (u32, u32),
    colours: [u32; 5],
}

#[derive(Default)]
struct Kept {
    images: HashMap<Key, Image>,
    pixels: usize,
}

impl Kept {
    fn get(&mut self, key: Key, draw: impl FnOnce() -> Image) -> Image {
        if let Some(image) = self.images.get(&key) {
            return image.clone();
        }
        let image = draw();
        let size = image.size();
        let pixels = (size.width * size.height) as usize;
        if self.pixels + pixels > MOST_PIXELS {
            *self = Self::default();
        }
        self.pixels += pixels;
        self.images.insert(key, image.clone());
        image
    }
}

/// Has the screens' shapes drawn by this.
pub fn draw_for(app: &App) {
    let kept: Rc<RefCell<Kept>> = Rc::default();
    let weak = app.as_weak();
    // Sizes come in logical pixels.
    let px = move |length: f32| {
        let factor = weak.upgrade().map_or(1.0, |app| app.window().scale_factor());
        (length * factor).round().clamp(1.0, 2000.0) as u32
    };
    let shapes = app.global::<ui::Shapes>();
    let (of, to_px) = (kept.clone(), px.clone());
    shapes.on_glyph(move |tone, size, fill, mark, edge, ground| {
        let (size, colours) = (to_px(size), [fill, mark, edge, ground, ground]);
        let key = Key { what: What::Glyph { tone: tone as u8 }, size: (size, size), colours: colours.map(bits) };
        of.borrow_mut().get(key, || glyph(tone, size, [fill, mark, edge], ground))
    });
    let (of, to_px) = (kept.clone(), px.clone());
    shapes.on_bucket(move |vessel, level, size, water, ink, ground| {
        let size = to_px(size);
        let level_px = (level.clamp(0.0, 1.0) * size as f32).round() as u32;
        let what = What::Bucket { vessel: vessel as u8, level_px };
        let key = Key { what, size: (size, size), colours: [water, ink, ground, ground, ground].map(bits) };
        of.borrow_mut().get(key, || bucket(vessel, level_px, size, water, ink, ground))
    });
    shapes.on_links(move |brush, tack, lead_out, width, height, colours| {
        let (size, marks) = ((px(width), px(height)), [brush, tack, lead_out]);
        let what = What::Links { marks: marks.map(|mark| mark as u8) };
        let LinkColours { done, tick, open, edge, ground } = colours;
        let key = Key { what, size, colours: [done, tick, open, edge, ground].map(bits) };
        kept.borrow_mut().get(key, || links(marks, size, &colours))
    });
}

fn bits(colour: Color) -> u32 {
    colour.as_argb_encoded()
}

/// The shape of a tone, on nothing where what is behind it is transparent; nothing where the tone is quiet.
fn glyph(tone: Tone, size: u32, [fill, mark, edge]: [Color; 3], behind: Color) -> Image {
    let field = 100.0 / size as f32;
    let thick = (size as f32 * 0.05).max(1.5) * field;
    let layers: Vec<Layer> = glyphs::parts(tone)
        .iter()
        .flat_map(|part| {
            let outline = |width| Paint::Line(width);
            match *part {
                glyphs::Part::Body { path, edge: share } => vec![
                    Layer { path, paint: Paint::Fill, colour: fill },
                    Layer { path, paint: outline(thick * share), colour: edge },
                ],
                glyphs::Part::Mark { path } => vec![Layer { path, paint: Paint::Fill, colour: mark }],
                glyphs::Part::Stroke { path, width } => {
                    vec![Layer { path, paint: outline(width), colour: mark }]
                }
            }
        })
        .collect();
    let scale = size as f32 / 100.0;
    if behind.alpha() == u8::MAX {
        opaque((size, size), scale, &layers, behind)
    } else {
        see_through((size, size), scale, &layers)
    }
}

/// A bucket from its side. What is not known has no level; where there is no bucket, a dash stands.
fn bucket(vessel: Vessel, level_px: u32, size: u32, water: Color, ink: Color, behind: Color) -> Image {
    const WHOLE: &str = "M 6 8 L 22 95 L 78 95 L 94 8 Z";
    const OPEN: &str = "M 6 8 L 22 95 L 78 95 L 94 8";
    let thick = (size as f32 * 0.045).max(2.0) * 100.0 / size as f32;
    let level = level_px as f32 / size as f32;
    // The water stands between the slanted sides, from 94 up to its level.
    let (top, inset) = (94.0 - 80.0 * level, 22.0 - 14.0 * level);
    let body = format!("M {inset} {top} L 22 94 L 78 94 L {} {top} Z", 100.0 - inset);
    let surface = format!("M {inset} {top} L {} {top}", 100.0 - inset);
    let line = Paint::Line(thick);
    let layers = match vessel {
        Vessel::None => vec![Layer { path: "M 20 86 L 80 86", paint: line, colour: ink }],
        Vessel::Unknown => vec![
            Layer { path: WHOLE, paint: Paint::Fill, colour: water },
            Layer { path: WHOLE, paint: line, colour: ink },
        ],
        Vessel::Level if level_px == 0 => vec![Layer { path: OPEN, paint: line, colour: ink }],
        Vessel::Level => vec![
            Layer { path: &body, paint: Paint::Fill, colour: water },
            // The level itself is told by ink: the water's colour alone may be too near to what is behind it.
            Layer { path: &surface, paint: Paint::Line(thick * 0.75), colour: ink },
            Layer { path: OPEN, paint: line, colour: ink },
        ],
    };
    opaque((size, size), size as f32 / 100.0, &layers, behind)
}

/// Three links in a row: open, half filled, filled with a tick.
fn links(marks: [Link; 3], size: (u32, u32), colours: &LinkColours) -> Image {
    let (width, height) = (size.0 as f32, size.1 as f32);
    let (thick, apart) = ((height * 0.13).max(1.5), height * 0.22);
    let each = ((width - 2.0 * apart) / 3.0).max(height);
    let mut layers: Vec<(String, Paint, Color)> = Vec::new();
    for (mark, at) in marks.into_iter().zip(0_u8..) {
        let left = f32::from(at) * (each + apart) + thick / 2.0;
        let (right, top, bottom) = (left + each - thick, thick / 2.0, height - thick / 2.0);
        let r = (bottom - top) / 2.0;
        let (from, till, half) = (left + r, right - r, (left + right) / 2.0);
        let whole = format!(
            "M {from} {top} L {till} {top} A {r} {r} 0 0 1 {till} {bottom} L {from} {bottom} A {r} {r} 0 0 1 {from} {top} Z"
        );
        let colour = if mark == Link::Done { colours.done } else { colours.open };
        layers.push((whole.clone(), Paint::Fill, colour));
        match mark {
            Link::Open => {}
            Link::Begun => {
                let begun =
                    format!("M {half} {top} L {from} {top} A {r} {r} 0 0 0 {from} {bottom} L {half} {bottom} Z");
                layers.push((begun, Paint::Fill, colours.done));
                layers.push((format!("M {half} {top} L {half} {bottom}"), Paint::Line(thick), colours.edge));
            }
            Link::Done => {
                let at = |x: f32, y: f32| format!("{} {}", half + x * height, height * y);
                let tick = format!("M {} L {} L {}", at(-0.34, 0.5), at(-0.08, 0.76), at(0.4, 0.26));
                layers.push((tick, Paint::Line((height * 0.14).max(1.5)), colours.tick));
            }
        }
        layers.push((whole, Paint::Line(thick), colours.edge));
    }
    let layers: Vec<Layer> =
        layers.iter().map(|(path, paint, colour)| Layer { path, paint: *paint, colour: *colour }).collect();
    opaque(size, 1.0, &layers, colours.ground)
}
