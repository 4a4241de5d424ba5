//! Wiping the glass.

use slint::{ComponentHandle, SharedString};

use crate::ui::SayGlass;

fn ask(word: impl FnOnce(SayGlass<'_>) -> SharedString) -> String {
    super::ask(|app| word(app.global()))
}

/// While touches do nothing.
pub fn wiping() -> String {
    ask(|say| say.get_wiping())
}
