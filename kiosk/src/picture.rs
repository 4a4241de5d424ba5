//! Pictures with no display: a platform of our own that draws into memory, and a PNG of what it drew. Its clock stands
//! still until it is moved, so that the same board gives the same picture.

use std::cell::Cell;
use std::path::Path;
use std::rc::Rc;
use std::time::Duration;

use anyhow::{Context, Result};
use slint::platform::software_renderer::{MinimalSoftwareWindow, RepaintBufferType, TargetPixel};
use slint::platform::{Platform, WindowAdapter};
use slint::{PhysicalSize, PlatformError, Rgb8Pixel, SharedPixelBuffer};

struct Headless {
    window: Rc<MinimalSoftwareWindow>,
    clock: Rc<Cell<Duration>>,
}

impl Platform for Headless {
    fn create_window_adapter(&self) -> Result<Rc<dyn WindowAdapter>, PlatformError> {
        Ok(self.window.clone())
    }

    fn duration_since_start(&self) -> Duration {
        self.clock.get()
    }
}

/// A window in memory.
pub struct Canvas {
    window: Rc<MinimalSoftwareWindow>,
    clock: Rc<Cell<Duration>>,
}

impl Canvas {
    /// Takes over this thread's platform. To be called once, before any window is made.
    ///
    /// # Errors
    /// Where another platform was there before.
    pub fn new(width_px: u32, height_px: u32) -> Result<Self> {
        Self::with_buffer(width_px, height_px, RepaintBufferType::NewBuffer)
    }

    /// The same for who draws into one buffer again and again: only what has changed is drawn.
    ///
    /// # Errors
    /// Where another platform was there before.
    pub fn reusing(width_px: u32, height_px: u32) -> Result<Self> {
        Self::with_buffer(width_px, height_px, RepaintBufferType::ReusedBuffer)
    }

    fn with_buffer(width_px: u32, height_px: u32, buffer: RepaintBufferType) -> Result<Self> {
        let window = MinimalSoftwareWindow::new(buffer);
        let clock = Rc::new(Cell::new(Duration::ZERO));
        slint::platform::set_platform(Box::new(Headless { window: window.clone(), clock: clock.clone() }))
            .context("no picture can be drawn beside another window")?;
        window.set_size(PhysicalSize::new(width_px, height_px));
        Ok(Self { window, clock })
    }

    /// Moves the clock on and lets what is due happen.
    pub fn pass(&self, time: Duration) {
        self.clock.set(self.clock.get() + time);
        slint::platform::update_timers_and_animations();
    }

    /// Draws what has changed into the buffer that was drawn into before, or all of it into any: how many pixels lie in the rectangles around that.
    pub fn draw_into<P: TargetPixel>(&self, pixels: &mut [P]) -> u32 {
        slint::platform::update_timers_and_animations();
        let width = self.window.size().width as usize;
        let mut drawn = 0;
        self.window.draw_if_needed(|renderer| {
            let region = renderer.render(pixels, width);
            drawn = region.iter().map(|(_, size)| size.width * size.height).sum();
        });
        drawn
    }

    /// Asks for a picture also where nothing has changed: a whole one, but from [`reusing`](Self::reusing).
    pub fn ask(&self) {
        self.window.request_redraw();
    }

    /// Draws the window as it is.
    pub fn draw(&self) -> SharedPixelBuffer<Rgb8Pixel> {
        slint::platform::update_timers_and_animations();
        let size = self.window.size();
        let mut pixels = SharedPixelBuffer::<Rgb8Pixel>::new(size.width, size.height);
        self.ask();
        self.window.draw_if_needed(|renderer| {
            renderer.render(pixels.make_mut_slice(), size.width as usize);
        });
        pixels
    }
}

/// Writes pixels as a PNG: beside the file first, then under its name, so that no reader ever finds half of one.
///
/// # Errors
/// Where the file can not be written.
pub fn write_png(pixels: &SharedPixelBuffer<Rgb8Pixel>, file: &Path) -> Result<()> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, pixels.width(), pixels.height());
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    let mut writer = encoder.write_header().context("the picture can not be encoded")?;
    writer.write_image_data(pixels.as_bytes()).context("the picture can not be encoded")?;
    writer.finish().context("the picture can not be encoded")?;

    let mut beside = file.as_os_str().to_owned();
    beside.push(".part");
    std::fs::write(&beside, &bytes).with_context(|| format!("{}: can not be written", file.display()))?;
    std::fs::rename(&beside, file).with_context(|| format!("{}: can not be written", file.display()))
}
