//! What somebody sees of a horse that is not itself: words to touch, so that nobody has to type with wet hands. It says
//! whom to tell and never what it is.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::observed::Sign;

/// Something seen of a horse.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Seen {
    /// A sign for which the vet is called at once.
    Vet(Sign),
    /// It goes unevenly, or spares a leg. Common practice of the trade: staff look before it works.
    GoesUnevenly,
    /// A leg is warm or swollen. Common practice.
    WarmLeg,
    /// A small wound, or a rub from tack. Common practice.
    SmallWound,
    /// A shoe is loose or gone. Common practice.
    Shoe,
    /// It coughs, or its nose runs. Common practice.
    Cough,
    /// It sweats or shivers at rest. Common practice.
    SweatsAtRest,
    /// It does not want to be touched, girthed or mounted as it usually does. Common practice.
    Unwilling,
    /// Its skin itches or loses hair: its tack is kept to itself. Common practice.
    Skin,
}

impl Seen {
    /// All of them, those for the vet first.
    pub const ALL: [Seen; 18] = [
        Seen::Vet(Sign::ColicSigns),
        Seen::Vet(Sign::OffFeed),
        Seen::Vet(Sign::HardBreathing),
        Seen::Vet(Sign::Bleeding),
        Seen::Vet(Sign::Eye),
        Seen::Vet(Sign::DeepWound),
        Seen::Vet(Sign::ObjectInBody),
        Seen::Vet(Sign::Stumbling),
        Seen::Vet(Sign::OddBehaviour),
        Seen::Vet(Sign::Dull),
        Seen::GoesUnevenly,
        Seen::WarmLeg,
        Seen::SmallWound,
        Seen::Shoe,
        Seen::Cough,
        Seen::SweatsAtRest,
        Seen::Unwilling,
        Seen::Skin,
    ];

    /// True for a sign for which the vet is called at once.
    pub fn vet_now(self) -> bool {
        matches!(self, Seen::Vet(_))
    }
}

impl fmt::Display for Seen {
    /// Plain English, for logs and for who reads the JSON.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Seen::Vet(sign) => return sign.fmt(f),
            Seen::GoesUnevenly => "goes unevenly",
            Seen::WarmLeg => "a warm or swollen leg",
            Seen::SmallWound => "a small wound or a rub",
            Seen::Shoe => "a shoe loose or gone",
            Seen::Cough => "coughs, or its nose runs",
            Seen::SweatsAtRest => "sweats or shivers at rest",
            Seen::Unwilling => "does not want to be touched, girthed or mounted as usual",
            Seen::Skin => "skin that itches or loses hair",
        })
    }
}
