//! Paths into pixels, one layer over the other.

use slint::{Color, Image, Rgb8Pixel, Rgba8Pixel, SharedPixelBuffer};
use zeno::{Fill, Mask, Stroke, Style, Transform};

/// How a path is drawn.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) enum Paint {
    /// Filled.
    Fill,
    /// As a line so wide, in the path's own units.
    Line(f32),
}

/// A path in a colour.
#[derive(Clone, Copy, Debug)]
pub(super) struct Layer<'a> {
    /// As SVG writes it.
    pub(super) path: &'a str,
    pub(super) paint: Paint,
    pub(super) colour: Color,
}

/// Layers with nothing behind them, so many pixels wide and high; `scale` pixels are one of the paths' units.
pub(super) fn see_through(size: (u32, u32), scale: f32, layers: &[Layer<'_>]) -> Image {
    let mut pixels = SharedPixelBuffer::<Rgba8Pixel>::new(size.0, size.1);
    for layer in layers {
        let [r, g, b] = channels(layer.colour);
        for (pixel, covered) in pixels.make_mut_slice().iter_mut().zip(mask(size, scale, layer)) {
            pixel.r = over(r, pixel.r, covered);
            pixel.g = over(g, pixel.g, covered);
            pixel.b = over(b, pixel.b, covered);
            pixel.a = over(u8::MAX, pixel.a, covered);
        }
    }
    Image::from_rgba8_premultiplied(pixels)
}

/// The same on a ground: quicker to bring to the screen, because nothing of it shines through.
pub(super) fn opaque(size: (u32, u32), scale: f32, layers: &[Layer<'_>], behind: Color) -> Image {
    let mut pixels = SharedPixelBuffer::<Rgb8Pixel>::new(size.0, size.1);
    let [r, g, b] = channels(behind);
    pixels.make_mut_slice().fill(Rgb8Pixel { r, g, b });
    for layer in layers {
        let [r, g, b] = channels(layer.colour);
        for (pixel, covered) in pixels.make_mut_slice().iter_mut().zip(mask(size, scale, layer)) {
            pixel.r = over(r, pixel.r, covered);
            pixel.g = over(g, pixel.g, covered);
            pixel.b = over(b, pixel.b, covered);
        }
    }
    Image::from_rgb8(pixels)
}

fn channels(colour: Color) -> [u8; 3] {
    [colour.red(), colour.green(), colour.blue()]
}

/// How much of each pixel a layer covers, 0 to 255.
fn mask(size: (u32, u32), scale: f32, layer: &Layer<'_>) -> Vec<u8> {
    let mut covered = vec![0; (size.0 * size.1) as usize];
    let style: Style<'_> = match layer.paint {
        Paint::Fill => Fill::NonZero.into(),
        Paint::Line(width) => Stroke::new(width).into(),
    };
    Mask::new(layer.path)
        .size(size.0, size.1)
        .transform(Some(Transform::scale(scale, scale)))
        .style(style)
        .render_into(&mut covered, None);
    covered
}

/// A channel over another, where so much of 255 is covered.
fn over(above: u8, below: u8, covered: u8) -> u8 {
    let (above, below, covered) = (u32::from(above), u32::from(below), u32::from(covered));
    ((above * covered + below * (255 - covered) + 127) / 255) as u8
}
