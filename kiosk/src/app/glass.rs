//! The glass in the kiosk's window: night by the board's clock, a touch that wakes it, the picture that walks, and the minute
//! in which it is wiped. What these mean is in [`crate::glass`].

use std::cell::Cell;
use std::rc::Rc;
use std::time::Duration;

use bellmare_barn::board::Clock;
use bellmare_barn::time::TimeOfDay;
use slint::{ComponentHandle, Timer, TimerMode};

use super::{Kiosk, Up, run};
use crate::glass::{AWAKE, Light, MOVES_EVERY, WIPE_S, place};
use crate::sizes::LEAST_ARCMIN;
use crate::ui::{self, Glass, Theme};
use crate::words;

/// What the glass is doing.
#[derive(Default)]
pub(super) struct Pane {
    awake: Cell<bool>,
    moves: Cell<u32>,
    left_s: Cell<u32>,
    wake_timer: Timer,
    move_timer: Timer,
    wipe_timer: Timer,
}

impl Kiosk {
    /// Begins the minute in which touches do nothing, so that the glass can be wiped. It ends by itself.
    pub fn wipe(self: &Rc<Self>) {
        self.open(Up::Aisle);
        self.pane.left_s.set(WIPE_S);
        self.show_wiping();
        let weak = Rc::downgrade(self);
        self.pane.wipe_timer.start(TimerMode::Repeated, Duration::from_secs(1), move || {
            run(&weak, |kiosk| {
                let left = kiosk.pane.left_s.get().saturating_sub(1);
                kiosk.pane.left_s.set(left);
                if left == 0 {
                    kiosk.pane.wipe_timer.stop();
                }
                kiosk.show_wiping();
            });
        });
    }

    /// True while touches do nothing.
    pub fn is_wiped(&self) -> bool {
        self.pane.left_s.get() > 0
    }

    /// Somebody stands here: bright for a minute, where it is night.
    pub(super) fn wake(self: &Rc<Self>) {
        self.pane.awake.set(true);
        let weak = Rc::downgrade(self);
        self.pane.wake_timer.start(TimerMode::SingleShot, AWAKE, move || {
            run(&weak, |kiosk| {
                kiosk.pane.awake.set(false);
                kiosk.show_light();
            });
        });
        self.show_light();
    }

    /// Takes the palette that the hour asks for.
    pub(super) fn show_light(&self) {
        let light = match self.settings.night.light(self.local_time(), self.pane.awake.get()) {
            Light::Day => ui::Light::Day,
            Light::Night => ui::Light::Night,
            Light::Dim => ui::Light::Dim,
        };
        self.app.global::<Theme>().set_light(light);
    }

    pub(super) fn connect_glass(self: &Rc<Self>) {
        let weak = Rc::downgrade(self);
        self.app.global::<Glass>().on_touched(move || run(&weak, Kiosk::wake));
        let weak = Rc::downgrade(self);
        self.pane.move_timer.start(TimerMode::Repeated, MOVES_EVERY, move || {
            run(&weak, |kiosk| {
                let moves = kiosk.pane.moves.get().wrapping_add(1);
                kiosk.pane.moves.set(moves);
                let (x, y) = place(moves);
                let glass = kiosk.app.global::<Glass>();
                glass.set_x(x as f32);
                glass.set_y(y as f32);
            });
        });
    }

    fn show_wiping(&self) {
        let sizes = self.sizes();
        let left = self.pane.left_s.get();
        let glass = self.app.global::<Glass>();
        glass.set_wiping(left > 0);
        glass.set_title(words::wiping().into());
        glass.set_left(words::seconds(u64::from(left)).into());
        glass.set_size(sizes.arm_font(LEAST_ARCMIN) * 2.0);
    }

    /// The board's time, and how long ago it came where the hub is silent.
    fn local_time(&self) -> Option<TimeOfDay> {
        let state = self.state.borrow();
        let Clock::Set { time, .. } = state.board.as_deref()?.clock else { return None };
        let silent_min = state.silent_s.unwrap_or(0) / 60;
        let minute = (u64::from(time.minutes()) + silent_min) % (24 * 60);
        TimeOfDay::from_minutes(u16::try_from(minute).ok()?)
    }
}
