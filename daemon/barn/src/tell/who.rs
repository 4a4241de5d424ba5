//! To whom an alarm is told, step by step. First staff on shift, then the equine professional, then the manager; what is the
//! hub's or a sensor's is nothing for the equine professional, and where the vet is to be called both hear of it at once.

use std::collections::BTreeSet;

use crate::alarm::cause::Rule;
use crate::board::AlarmWhat;
use crate::book::{Book, Role};
use crate::id::PersonId;
use crate::shift::Shift;

/// The roles of each step.
pub type Ladder = &'static [&'static [Role]];

const OF_HORSES: Ladder = &[&[Role::Staff], &[Role::EquineProfessional], &[Role::Manager]];
const OF_THE_HUB: Ladder = &[&[Role::Staff], &[Role::Manager]];
const OF_THE_VET: Ladder = &[&[Role::Staff, Role::EquineProfessional], &[Role::Manager]];

/// The steps for what an alarm says.
pub fn ladder(rule: Rule, what: &AlarmWhat) -> Ladder {
    if let AlarmWhat::Wrong { vet_now: true, .. } | AlarmWhat::VitalsCaution { vet_now: true, .. } = what {
        return OF_THE_VET;
    }
    match rule {
        Rule::Empty
        | Rule::Low
        | Rule::Ice
        | Rule::NotDrinking
        | Rule::Drinks
        | Rule::Heat
        | Rule::PeopleHeat
        | Rule::HeatAhead
        | Rule::Frost
        | Rule::Vitals
        | Rule::Wrong
        | Rule::Hay
        | Rule::NoHorse => OF_HORSES,
        Rule::Leak
        | Rule::Faulty
        | Rule::ClimateDoubt
        | Rule::Silent
        | Rule::Battery
        | Rule::Late
        | Rule::NobodyFor
        | Rule::NobodyHere
        | Rule::Clock
        | Rule::Disk
        | Rule::Broker
        | Rule::Journal => OF_THE_HUB,
    }
}

/// Who of these roles is told: staff only while they are on shift; of the others whoever is here, and all where none is.
pub fn persons(roles: &[Role], book: &Book, shift: &Shift, reachable: &BTreeSet<PersonId>) -> Vec<PersonId> {
    let mut list = Vec::new();
    for role in roles {
        let of_role = |id: &&PersonId| book.people.get(*id).is_some_and(|person| person.role == *role);
        let all: Vec<&PersonId> = reachable.iter().filter(of_role).collect();
        let here: Vec<&PersonId> = all.iter().copied().filter(|id| shift.here_since(id).is_some()).collect();
        let told = if here.is_empty() && *role != Role::Staff { all } else { here };
        list.extend(told.into_iter().cloned());
    }
    list
}
