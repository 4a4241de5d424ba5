//! What to do in the heat, in order, for each band: keys, with their English words.
//!
//! Usual cautions of the trade, none of them a diagnosis or a permission. The equine professional in charge decides whether a
//! horse works, the veterinarian what a horse needs, and local rules come first; every list from "critical" on says so.
//!
//! Sources: US Equestrian's heat-alert clarification and the American Association of Equine Practitioners (water, shade,
//! shorter and lighter work, evaporation that humidity hinders); University of Minnesota Extension (cool with water
//! continuously, call the vet where a heat stroke is suspected); a veterinarian's column (rectal temperature after work:
//! over 103.5 °F a worry, over 105 °F urgent). For people: US National Weather Service and OSHA, heat safety. The order is ours.
//!
//! Knows no place and no horse.

use std::fmt;

use serde::{Deserialize, Serialize};

use crate::board::{HeatBand, PeopleBand};

/// One thing to do.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Advice {
    /// No work now.
    NoWork,
    /// Whom to tell.
    TellProfessional,
    /// Less and slower.
    ShorterAndLighter,
    /// Water to drink.
    OfferWater,
    /// Out of the sun, into moving air.
    ShadeAndAir,
    /// What to look at before, during and after work.
    LookAtHorses,
    /// How to cool a hot horse.
    CoolWithWater,
    /// When to call the veterinarian.
    CallVet,
    /// People drink.
    PeopleDrink,
    /// People rest in the shade.
    PeopleRest,
    /// People put off heavy work.
    PeopleStopHeavyWork,
    /// When to call for help for a person.
    CallForHelp,
    /// Who decides.
    OthersDecide,
}

/// What to do for horses in a band, first things first.
pub fn for_horses(band: HeatBand) -> &'static [Advice] {
    use Advice::*;
    match band {
        HeatBand::CarryOn => &[],
        HeatBand::Watch => &[OfferWater, ShadeAndAir, LookAtHorses],
        HeatBand::Critical => &[
            TellProfessional,
            ShorterAndLighter,
            OfferWater,
            ShadeAndAir,
            LookAtHorses,
            CoolWithWater,
            CallVet,
            OthersDecide,
        ],
        HeatBand::Stop => {
            &[NoWork, TellProfessional, ShadeAndAir, OfferWater, CoolWithWater, LookAtHorses, CallVet, OthersDecide]
        }
    }
}

/// What to do for people in a band, first things first.
pub fn for_people(band: PeopleBand) -> &'static [Advice] {
    use Advice::*;
    match band {
        PeopleBand::NoCaution => &[],
        PeopleBand::Caution => &[PeopleDrink],
        PeopleBand::ExtremeCaution => &[PeopleDrink, PeopleRest],
        PeopleBand::Danger | PeopleBand::ExtremeDanger => &[PeopleStopHeavyWork, PeopleDrink, PeopleRest, CallForHelp],
    }
}

/// What to do for both: horses first, people after, who decides last.
pub fn for_both(horses: HeatBand, people: PeopleBand) -> Vec<Advice> {
    let mut all: Vec<Advice> = for_horses(horses).iter().chain(for_people(people)).copied().collect();
    // One for both, and the last word.
    let decided = all.contains(&Advice::OthersDecide);
    all.retain(|advice| *advice != Advice::OthersDecide);
    all.extend(decided.then_some(Advice::OthersDecide));
    all
}

impl Advice {
    /// A sentence, for a list that is read in peace.
    pub fn words(self) -> &'static str {
        match self {
            Advice::NoWork => "Choose another time: no horse works in this.",
            Advice::TellProfessional => {
                "Tell the equine professional and the instructor before the next horse is tacked up."
            }
            Advice::ShorterAndLighter => "If horses work at all: shorter, lighter, at a walk, with rests in the shade.",
            Advice::OfferWater => "Offer water often, before and after work; look that every bucket is full.",
            Advice::ShadeAndAir => "Keep horses in the shade and in moving air; untack in the shade.",
            Advice::LookAtHorses => {
                "Look at each horse before, during and after work: fast breathing that does not slow down, much sweat or \
                 none, dullness."
            }
            Advice::CoolWithWater => {
                "Cool a hot horse with plenty of water all over, again and again, and walk it in the shade; tell staff."
            }
            Advice::CallVet => {
                "Call the vet at once for a horse that staggers, stops sweating, does not cool down, or is over 105 °F \
                 (40.6 °C), and cool it with water until they come; over 103.5 °F (39.7 °C) after work tell the equine professional."
            }
            Advice::PeopleDrink => "People: drink water often, before you are thirsty.",
            Advice::PeopleRest => {
                "People: rest in the shade; full sun feels up to 15 °F (8 °C) hotter. Look at each other."
            }
            Advice::PeopleStopHeavyWork => "People: put off heavy work, and riders who bear heat badly.",
            Advice::CallForHelp => {
                "Call emergency services for anybody who is confused, faints, or is hot and no longer sweats; cool them at once."
            }
            Advice::OthersDecide => {
                "This is a prompt to look, no permission: the equine professional, the vet and local rules decide."
            }
        }
    }
}

impl fmt::Display for Advice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.words())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_band_says_more_than_the_one_below() {
        let horses = [HeatBand::CarryOn, HeatBand::Watch, HeatBand::Critical, HeatBand::Stop].map(for_horses);
        assert!(horses[0].is_empty());
        assert!(horses[1].iter().all(|advice| horses[2].contains(advice)));
        assert!(horses[2].contains(&Advice::ShorterAndLighter) && !horses[2].contains(&Advice::NoWork));
        assert_eq!((horses[3][0], horses[3].contains(&Advice::ShorterAndLighter)), (Advice::NoWork, false));
        let people = [PeopleBand::Caution, PeopleBand::ExtremeCaution, PeopleBand::Danger].map(for_people);
        assert!(people.windows(2).all(|pair| pair[0].iter().all(|advice| pair[1].contains(advice))));
    }

    #[test]
    fn from_critical_on_others_decide_and_that_is_the_last_word() {
        for (horses, people, decided) in [
            (HeatBand::CarryOn, PeopleBand::NoCaution, false),
            (HeatBand::Watch, PeopleBand::ExtremeCaution, false),
            (HeatBand::Critical, PeopleBand::NoCaution, true),
            (HeatBand::Stop, PeopleBand::ExtremeDanger, true),
        ] {
            let both = for_both(horses, people);
            assert_eq!(both.last() == Some(&Advice::OthersDecide), decided, "{both:?}");
            assert_eq!(both.iter().filter(|advice| **advice == Advice::CallVet).count(), usize::from(decided));
        }
    }
}
