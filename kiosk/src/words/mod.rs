//! Every word that the kiosk says, and how it says times and quantities, in the language that is chosen. The texts stand in
//! `ui/words/*.slint`, their Spanish in `lang/es`; Slint bundles both and picks. Here they are functions that plain code can call:
//! it knows the barn's kinds of things and no screen.
//!
//! Words are asked of the window of this thread. Where there is none, as in a test of a layout, one is made in memory.

mod alarm;
mod check;
mod glass;
mod heat;
mod hub;
mod pages;
mod people;
mod rounds;
mod staff;
mod time;
mod water;
mod why;
mod work;
mod wrong;

use std::cell::{Cell, RefCell};

use bellmare_barn::language::Language;
use slint::{ComponentHandle, SharedString, Weak};

use crate::picture;
use crate::ui::App;

pub use alarm::*;
pub use check::*;
pub use glass::*;
pub use heat::*;
pub use hub::*;
pub use pages::*;
pub use people::*;
pub use rounds::*;
pub use staff::*;
pub use time::*;
pub use water::*;
pub use why::*;
pub use work::*;
pub use wrong::*;

thread_local! {
    static SPEAKER: RefCell<Option<Weak<App>>> = const { RefCell::new(None) };
    static LANGUAGE: Cell<Language> = const { Cell::new(Language::English) };
}

/// Says all words in this language from now on, on this thread. What was drawn before must be drawn anew.
pub fn set_language(language: Language) {
    if LANGUAGE.replace(language) != language {
        select();
    }
}

/// The language of the words on this thread.
pub fn language() -> Language {
    LANGUAGE.get()
}

/// Asks this window for words from now on.
pub fn speak_through(app: &App) {
    SPEAKER.set(Some(app.as_weak()));
    // Slint begins with the language of the system; the kiosk's is its own affair.
    select();
}

fn select() {
    let name = match LANGUAGE.get() {
        Language::English => "en",
        Language::Spanish => "es",
    };
    // With no window yet nothing is bundled on this thread; `speak_through` selects again.
    let _not_yet = slint::select_bundled_translation(name);
}

/// Asks the window for a word.
fn ask(word: impl FnOnce(&App) -> SharedString) -> String {
    let app = SPEAKER.with_borrow(|speaker| speaker.as_ref().and_then(Weak::upgrade)).unwrap_or_else(in_memory);
    word(&app).into()
}

/// A window that is never shown, for a thread that has none.
fn in_memory() -> App {
    // Where the thread has a platform already, that one makes the window.
    let _has_one = picture::Canvas::new(1, 1);
    let app = App::new().expect("a window in memory needs nothing that could fail");
    speak_through(&app);
    // It stays for as long as its thread, and is not taken down with the thread's other storage, which goes in any order.
    std::mem::forget(app.clone_strong());
    app
}
