//! How large a thing must be to be seen or touched: from the panel's millimetres and pixels and from how far away it is
//! read. Pure arithmetic; it knows no screen and no board.
//!
//! Terms: *capital height* is the height of a flat capital letter; the *visual angle* is what it takes up in the eye, in
//! minutes of arc. A text that must be read gets 16 at least and 20 where it fits (NUREG-0700 rev. 3, 1.3.1-4).

/// The least visual angle of a text that must be read, in minutes of arc.
pub const LEAST_ARCMIN: f32 = 16.0;
/// The visual angle of a text where it fits, in minutes of arc.
pub const GOOD_ARCMIN: f32 = 20.0;
/// Capital height of the kiosk's font as a share of its size (OS/2 sCapHeight of Atkinson Hyperlegible Next).
pub const CAPITAL_SHARE: f32 = 0.668;
/// A touch target's least side in millimetres, for a wet or gloved finger.
pub const TOUCH_MM: f32 = 20.0;
/// The same for what is pressed most.
pub const GLOVE_MM: f32 = 25.0;
/// The least gap between two touch targets in millimetres.
pub const TOUCH_GAP_MM: f32 = 3.0;
/// How far the eye is from a kiosk that the hand touches, in metres.
pub const ARM_M: f32 = 0.6;
/// Nobody is asked to read the aisle picture from farther away than this, in metres.
pub const FARTHEST_M: f32 = 3.0;

/// The glass: how many pixels, how many millimetres.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Panel {
    /// Width in pixels.
    pub width_px: f32,
    /// Height in pixels.
    pub height_px: f32,
    /// Width of the picture in millimetres.
    pub width_mm: f32,
    /// Height of the picture in millimetres.
    pub height_mm: f32,
}

impl Panel {
    /// A panel of usual make with so many pixels, for when nobody measured it: 7, 10.1 and 21.5 inch across.
    pub fn usual(width_px: f32, height_px: f32) -> Self {
        let pixels = width_px * height_px;
        let inches = if pixels <= 1024.0 * 600.0 {
            7.0
        } else if pixels <= 1280.0 * 800.0 {
            10.1
        } else {
            21.5
        };
        let mm_per_px = inches * 25.4 / width_px.hypot(height_px);
        Self { width_px, height_px, width_mm: width_px * mm_per_px, height_mm: height_px * mm_per_px }
    }

    /// Pixels in a millimetre; the smaller of the two axes where they differ, so that nothing is made too small.
    pub fn px_per_mm(&self) -> f32 {
        (self.width_px / self.width_mm).max(self.height_px / self.height_mm)
    }

    /// From how far it is read where nobody said: six times its diagonal, [`FARTHEST_M`] at most.
    pub fn usual_distance_m(&self) -> f32 {
        (self.width_mm.hypot(self.height_mm) * 6.0 / 1000.0).min(FARTHEST_M)
    }
}

/// Capital height in millimetres that takes up `arcmin` minutes of arc from `distance_m` metres.
pub fn capital_mm(distance_m: f32, arcmin: f32) -> f32 {
    let angle = (arcmin / 60.0).to_radians();
    2.0 * distance_m * 1000.0 * (angle / 2.0).tan()
}

/// The sizes in force on one panel at one distance.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Sizes {
    /// The glass.
    pub panel: Panel,
    /// From how far the aisle picture is read, in metres.
    pub distance_m: f32,
}

impl Sizes {
    /// Font size in pixels whose capitals take up `arcmin` from `distance_m`.
    pub fn font_at(&self, distance_m: f32, arcmin: f32) -> f32 {
        capital_mm(distance_m, arcmin) * self.panel.px_per_mm() / CAPITAL_SHARE
    }

    /// Font size in pixels of a text read from the aisle.
    pub fn aisle_font(&self, arcmin: f32) -> f32 {
        self.font_at(self.distance_m, arcmin)
    }

    /// Font size in pixels of the least text at arm's length.
    pub fn arm_font(&self, arcmin: f32) -> f32 {
        self.font_at(ARM_M, arcmin)
    }

    /// From how far a font of that size can still be read at [`LEAST_ARCMIN`], in metres.
    pub fn readable_from_m(&self, font_px: f32) -> f32 {
        let height_mm = font_px * CAPITAL_SHARE / self.panel.px_per_mm();
        height_mm / capital_mm(1.0, LEAST_ARCMIN)
    }

    /// Millimetres on this panel in pixels.
    pub fn px(&self, mm: f32) -> f32 {
        mm * self.panel.px_per_mm()
    }

    /// The least side of a touch target in pixels.
    pub fn touch(&self) -> f32 {
        self.px(TOUCH_MM).ceil()
    }

    /// The least gap between touch targets in pixels.
    pub fn touch_gap(&self) -> f32 {
        self.px(TOUCH_GAP_MM).ceil()
    }
}
