//! People: who is here, and what they do.

use bellmare_barn::book::Role;
use slint::{ComponentHandle, SharedString};

use crate::ui::SayPeople;

fn ask(word: impl FnOnce(SayPeople<'_>) -> SharedString) -> String {
    super::ask(|app| word(app.global()))
}

/// How many are signed in.
pub fn on_shift(count: usize) -> String {
    ask(|say| say.invoke_on_shift(count.to_string().into()))
}

/// Nobody is signed in.
pub fn nobody() -> String {
    ask(|say| say.get_nobody())
}

/// Opens the sign-in screen.
pub fn sign_in_out() -> String {
    ask(|say| say.get_sign_in_out())
}

/// Over the names, when a horse was checked.
pub fn who_checked() -> String {
    ask(|say| say.get_who_checked())
}

/// Signed in since.
pub fn here_since(time: &str) -> String {
    ask(|say| say.invoke_here_since(time.into()))
}

/// Not signed in.
pub fn not_here() -> String {
    ask(|say| say.get_not_here())
}

/// What a person does here.
pub fn role(role: Role) -> String {
    ask(|say| match role {
        Role::Groom => say.get_groom(),
        Role::HorseLeader => say.get_horse_leader(),
        Role::SideWalker => say.get_side_walker(),
        Role::Instructor => say.get_instructor(),
        Role::EquineProfessional => say.get_equine_professional(),
        Role::Staff => say.get_staff(),
        Role::Manager => say.get_manager(),
    })
}
