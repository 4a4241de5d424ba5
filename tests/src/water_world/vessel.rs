//! Vessels by the slice.

/// Inside measures of a vessel in millimetres.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Walls {
    /// Round: across at the bottom, across at the top, height.
    Round(f64, f64, f64),
    /// With a flat back: the same, and from back to front at the top.
    FlatBack(f64, f64, f64, f64),
    /// Four straight walls: length, width, height.
    Box(f64, f64, f64),
}

/// A vessel, filled slice by slice.
#[derive(Clone, Debug)]
pub struct Solid {
    /// Its walls.
    pub walls: Walls,
    /// Litres under each half millimetre of height.
    litres: Vec<f64>,
}

const SLICE_MM: f64 = 0.5;

impl Solid {
    /// Sums its slices.
    pub fn new(walls: Walls) -> Self {
        let slices = (walls.height() / SLICE_MM) as usize;
        let mut litres = vec![0.0];
        for n in 0..slices {
            let middle = (n as f64 + 0.5) * SLICE_MM;
            litres.push(litres[n] + walls.area(middle) * SLICE_MM / 1e6);
        }
        Self { walls, litres }
    }

    /// Litres when full.
    pub fn full(&self) -> f64 {
        self.litres[self.litres.len() - 1]
    }

    /// How high so many litres stand, in millimetres.
    pub fn height(&self, litres: f64) -> f64 {
        let above = self.litres.partition_point(|under| *under < litres).clamp(1, self.litres.len() - 1);
        let (low, high) = (self.litres[above - 1], self.litres[above]);
        SLICE_MM * ((above - 1) as f64 + ((litres - low) / (high - low)).clamp(0.0, 1.0))
    }

    /// Area of the surface in square metres.
    pub fn surface(&self, litres: f64) -> f64 {
        self.walls.area(self.height(litres)) / 1e6
    }
}

impl Walls {
    /// How high it is, in millimetres.
    pub fn height(self) -> f64 {
        match self {
            Walls::Round(.., height) | Walls::FlatBack(_, _, height, _) | Walls::Box(.., height) => height,
        }
    }

    /// Area of the slice at a height, in square millimetres.
    fn area(self, h: f64) -> f64 {
        let across = |bottom: f64, top: f64, height: f64| bottom + (top - bottom) * h / height;
        match self {
            Walls::Round(bottom, top, height) => std::f64::consts::PI * (across(bottom, top, height) / 2.0).powi(2),
            Walls::FlatBack(bottom, top, height, depth) => {
                let across = across(bottom, top, height);
                strips(across, depth / top * across)
            }
            Walls::Box(length, width, _) => length * width,
        }
    }
}

/// Area of a circle so far across, from its front to a cut so far behind it: strip by strip.
fn strips(across: f64, depth: f64) -> f64 {
    const STRIPS: usize = 400;
    let (radius, width) = (across / 2.0, depth / STRIPS as f64);
    (0..STRIPS)
        .map(|n| {
            let from_middle = radius - (n as f64 + 0.5) * width;
            2.0 * (radius * radius - from_middle * from_middle).max(0.0).sqrt() * width
        })
        .sum()
}
