//! The search for a cheap plan: a first plan by hand's rule, then large-neighbourhood search.
//!
//! A round takes some halves out of the plan that have to do with each other (near in time, same gear, same horse), and
//! places them again one by one, each where it is cheapest, in another order; then the times around are made exact. A
//! plan a little worse is kept now and then, less so towards the end. No round ever makes a plan that breaks a rule.

mod chance;
mod place;
mod round;
pub(super) mod state;
pub(super) mod table;
mod timing;

pub(super) use round::Search;
