//! A display that nobody sees (Xvfb), and the pixels on it.

use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};

use anyhow::Context;
use x11rb::connection::Connection;
use x11rb::protocol::xproto::{ConnectionExt, ImageFormat};
use x11rb::rust_connection::RustConnection;

/// A part of the screen.
#[derive(Clone, Copy)]
pub struct Part {
    pub x: i16,
    pub y: i16,
    pub w: u16,
    pub h: u16,
}

pub struct Screen {
    server: Child,
    pub display: String,
    connection: RustConnection,
    root: u32,
}

impl Screen {
    pub fn new(width: u32, height: u32) -> anyhow::Result<Self> {
        let size = format!("{width}x{height}x24");
        let mut server = Command::new("Xvfb")
            .args(["-displayfd", "1", "-screen", "0", &size, "-nolisten", "tcp"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .context("Xvfb can not be started")?;
        let mut number = String::new();
        let told = server.stdout.take().context("Xvfb tells nothing")?;
        BufReader::new(told).read_line(&mut number).context("Xvfb tells no display")?;
        let display = format!(":{}", number.trim());
        let (connection, screen) = x11rb::connect(Some(&display)).context("Xvfb can not be reached")?;
        let root = connection.setup().roots[screen].root;
        Ok(Self { server, display, connection, root })
    }

    /// The pixels of a part of the screen, four bytes each: blue, green, red, none.
    pub fn pixels(&self, part: Part) -> anyhow::Result<Vec<u8>> {
        let Part { x, y, w, h } = part;
        let image = self.connection.get_image(ImageFormat::Z_PIXMAP, self.root, x, y, w, h, u32::MAX)?;
        Ok(image.reply()?.data)
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        // It ends with the bench in any case.
        let _gone = self.server.kill().and_then(|()| self.server.wait());
    }
}
