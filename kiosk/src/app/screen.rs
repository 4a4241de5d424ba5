//! Which screens there are, and how the one that is up is drawn.

use bellmare_barn::id::{HorseId, PersonId, RideId, StallId};
use slint::{ComponentHandle, SharedString};

use super::{Kiosk, Settings, State};
use crate::aisle::frame::Rect;
use crate::aisle::{self, View};
use crate::card::{self, CardSide};
use crate::check::{self, Sign};
use crate::pages::round::Part;
use crate::pages::{self, Does, Here, keypad, layout, plots};
use crate::sizes::{LEAST_ARCMIN, Panel, Sizes};
use crate::ui::{self, Banner, Screen, Screens};
use crate::words;

/// Which screen is up.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub enum Up {
    /// The aisle picture.
    #[default]
    Aisle,
    /// A stall's card.
    Card {
        /// Which stall's.
        stall: StallId,
        /// Which side of it.
        side: CardSide,
    },
    /// A page on which the horse of a stall is checked.
    Check {
        /// Which stall's.
        stall: StallId,
        /// Which page.
        sign: Sign,
    },
    /// Who has checked the horse of this stall; what they found waits to be sent.
    Checked {
        /// Which stall's.
        stall: StallId,
        /// What they found, in a line.
        found: String,
    },
    /// Who is in the barn, and the way to sign in.
    Shift,
    /// What one person does next.
    Person {
        /// Who.
        person: PersonId,
    },
    /// The rounds.
    Round {
        /// Which part of them.
        part: Part,
    },
    /// Something is wrong with a horse.
    Wrong {
        /// Which.
        horse: HorseId,
    },
    /// One alarm.
    Alarm {
        /// Its number.
        alarm: u64,
    },
    /// What staff do.
    Staff,
    /// Whose PIN.
    ChooseStaff {
        /// Where it leads.
        then: Box<Up>,
    },
    /// The keys for a PIN.
    Pin {
        /// Whose.
        person: PersonId,
        /// Where it leads.
        then: Box<Up>,
    },
    /// The keys for the clock.
    Clock,
    /// Who could take a ride.
    StandIns {
        /// Which ride.
        ride: RideId,
    },
    /// A horse's water of today and of two weeks.
    Water {
        /// Which stall's.
        stall: StallId,
    },
    /// The heat of today.
    Heat,
}

impl Up {
    /// The card of a stall, with its tack up.
    pub fn card(stall: &str) -> Self {
        Up::Card { stall: StallId::from(stall), side: CardSide::Tack }
    }
}

impl Kiosk {
    /// Draws what is up anew.
    pub fn redraw(&self) {
        self.show_light();
        let sizes = self.sizes();
        words::set_language(self.language());
        let screens = self.app.global::<Screens>();
        let drawn = {
            let state = self.state.borrow();
            let banner = state.banner.as_ref();
            screens.set_banner(Banner {
                text: banner.map(|(text, _)| SharedString::from(text)).unwrap_or_default(),
                tone: ui::tone(banner.map(|(_, tone)| *tone).unwrap_or_default()),
                size: sizes.arm_font(LEAST_ARCMIN) * 1.5,
            });
            if state.board.is_none() {
                screens.set_waiting(words::no_board().into());
                screens.set_waiting_why(words::no_board_why().into());
                screens.set_size(sizes.aisle_font(LEAST_ARCMIN).min(sizes.panel.width_px / 14.0));
                Drawn { screen: Screen::Waiting, does: Vec::new(), targets: Vec::new() }
            } else {
                // What is no longer on the board has no page: the aisle is shown instead.
                self.page(&state, &sizes).unwrap_or_else(|| self.aisle(&state, sizes))
            }
        };
        self.state.borrow_mut().targets = drawn.does;
        screens.set_current(drawn.screen);
        if let Some(tell) = &*self.on_drawn.borrow() {
            tell(&drawn.targets);
        }
    }

    /// Tells where everything that can be touched stands, by its label, each time that the screen is drawn.
    pub fn tell_targets(&self, tell: impl Fn(&[(String, Rect)]) + 'static) {
        *self.on_drawn.borrow_mut() = Some(Box::new(tell));
    }

    /// Draws the page that is up; none where it is the aisle, or where there is nothing to show on it.
    fn page(&self, state: &State, sizes: &Sizes) -> Option<Drawn> {
        let board = state.board.as_deref()?;
        let here = Here {
            board,
            who: state.who.as_ref(),
            staff: state.staff.as_ref().map(|staff| &staff.person),
            language: state.language,
            stand_ins: state.stand_ins.as_ref(),
        };
        match &state.up {
            Up::Aisle => None,
            Up::Card { stall, side: CardSide::Tack } => {
                let card = card::draw(&here, stall, sizes)?;
                self.rows.show_card(&self.app, &card);
                Some(Drawn {
                    screen: Screen::Card,
                    targets: card.ways.iter().map(|placed| (placed.item.label(), placed.rect)).collect(),
                    does: card.ways.into_iter().map(|placed| (placed.item.does, None)).collect(),
                })
            }
            Up::Check { stall, sign } => {
                let entry = check::horse(board, stall).and_then(|horse| state.checks.get(&horse).cloned());
                let page = check::draw(board, stall, *sign, &entry.unwrap_or_default(), sizes)?;
                self.rows.show_check(&self.app, &page);
                Some(Drawn { screen: Screen::Check, does: Vec::new(), targets: page.targets() })
            }
            Up::Pin { person, .. } => {
                let keys = keypad::pin(&here, person, &state.typed, &state.tried, sizes)?;
                Some(self.keypad(keys))
            }
            Up::Clock => Some(self.keypad(keypad::clock(&state.typed, sizes))),
            Up::Water { stall } => Some(self.plots(plots::water(&here, stall, sizes)?)),
            Up::Heat => Some(self.plots(plots::heat(&here, sizes))),
            up => {
                let laid = layout::lay_out(&pages::sheet(up, &here, sizes)?, sizes, state.page);
                self.rows.show_sheet(&self.app, &laid);
                let targets = laid.targets();
                let does =
                    laid.placed.into_iter().map(|placed| (placed.item.does, placed.item.aside.map(|(_, does)| does)));
                Some(Drawn { screen: Screen::Sheet, does: does.collect(), targets })
            }
        }
    }

    fn keypad(&self, keys: keypad::Keypad) -> Drawn {
        self.rows.show_keypad(&self.app, &keys);
        let targets = keys.targets();
        Drawn {
            screen: Screen::Check,
            does: keys.keys.into_iter().map(|(_, item)| (item.does, None)).collect(),
            targets,
        }
    }

    fn plots(&self, plots: plots::Plots) -> Drawn {
        self.rows.show_plots(&self.app, &plots);
        let (rect, back) = plots.back;
        Drawn { screen: Screen::Plot, targets: vec![(back.label(), rect)], does: vec![(back.does, None)] }
    }

    fn aisle(&self, state: &State, sizes: Sizes) -> Drawn {
        let Some(board) = state.board.as_deref() else {
            return Drawn { screen: Screen::Waiting, does: Vec::new(), targets: Vec::new() };
        };
        let view = View {
            board,
            sizes,
            aisle: self.settings.aisle.as_deref(),
            turn: state.turn,
            silent_s: state.silent_s,
            language: state.language,
        };
        let scene = aisle::picture(&view);
        self.rows.show_aisle(&self.app, &scene);
        Drawn { screen: Screen::Aisle, does: Vec::new(), targets: scene.targets() }
    }
}

/// What was drawn.
struct Drawn {
    screen: Screen,
    /// What each thing that can be touched does, and its second target, in the order of the screen's rows.
    does: Vec<(Option<Does>, Option<Does>)>,
    /// Where everything that can be touched stands, by its label.
    targets: Vec<(String, Rect)>,
}

/// The sizes for a picture of so many pixels.
pub fn sizes(settings: &Settings, width_px: f32, height_px: f32) -> Sizes {
    let mut panel = Panel::usual(width_px, height_px);
    if let Some((width_mm, height_mm)) = settings.panel_mm {
        panel = Panel { width_mm, height_mm, ..panel };
    }
    Sizes { panel, distance_m: settings.distance_m.unwrap_or_else(|| panel.usual_distance_m()) }
}
