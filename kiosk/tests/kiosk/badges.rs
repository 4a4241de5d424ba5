//! Badge readers that type into the window, played key by key.

use std::time::{Duration, Instant};

use bellmare_barn::input::Action;
use bellmare_kiosk::app::Up;
use bellmare_kiosk::check::Sign;
use bellmare_kiosk::pages::round::Part;
use slint::platform::WindowEvent;
use slint::{ComponentHandle, SharedString};

use crate::touches::{Stand, stand};

/// Types as a reader does, until the kiosk has taken a badge: a machine that is held up types too slowly once.
fn hold_badge(stand: &Stand, typed: &str) {
    let until = Instant::now() + Duration::from_secs(20);
    let before = stand.sent().len();
    while stand.sent().len() == before {
        assert!(Instant::now() < until, "{typed} was never read");
        for key in typed.chars() {
            let text = SharedString::from(key.to_string());
            stand.kiosk.app().window().dispatch_event(WindowEvent::KeyPressed { text: text.clone() });
            stand.kiosk.app().window().dispatch_event(WindowEvent::KeyReleased { text });
        }
    }
}

#[test]
fn a_reader_that_types_is_read_on_every_screen() {
    let stand = stand("morning");
    let screens = [
        Up::Aisle,
        Up::card("3"),
        Up::Check { stall: "3".into(), sign: Sign::Gums },
        Up::Shift,
        Up::Round { part: Part::Chores },
        Up::Clock,
        Up::Heat,
    ];
    for up in screens.clone() {
        stand.kiosk.open(up);
        hold_badge(&stand, "0412998\n");
        // Also where a finger has just been somewhere else.
        stand.kiosk.open(Up::Aisle);
        stand.press("stall 3, Pepper, water 3.6 gal, enough, mount 9:45, tack up");
        hold_badge(&stand, "AB12\n");
    }
    let badges: Vec<Action> =
        screens.iter().flat_map(|_| ["0412998", "AB12"]).map(|badge| Action::Badge(badge.into())).collect();
    assert_eq!(stand.sent(), badges);
}
