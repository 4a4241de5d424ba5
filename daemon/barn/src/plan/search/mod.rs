//! The search for a cheap plan: first plans by hand's rule and, where grooms are few, by beam search ([`beam`]), then
//! large-neighbourhood search.
//!
//! A round takes some halves out of the plan that have to do with each other (near in time, same gear, same horse), and
//! places them again one by one, each where it is cheapest, in another order; then the times around are made exact. What
//! stands in the way of a place is pushed aside ([`push`]). Where staff are called or something is late, the jobs around may
//! be parted first, or a brush comes long before its tack. Now and then all orders of a few jobs on a line are looked at
//! ([`reorder`]), or two grooms change over what they do for a while, at random or so that the work is shared more evenly
//! ([`balance`]). A plan a little worse is kept now and then, less so towards the end (simulated annealing; Kirkpatrick, Gelatt
//! and Vecchi 1983), in four heats from first plans of their own (with many grooms the last goes on from the best of the
//! others). What one of them has found for some part of the day is taken over into what others have found for the rest
//! ([`graft`]), and at last all small changes are tried, one after the other ([`polish`]). No round ever makes a plan that
//! breaks a rule.

mod balance;
mod beam;
mod build;
mod chance;
mod change;
mod choose;
mod graft;
mod moves;
mod place;
mod polish;
mod push;
mod reorder;
mod round;
#[cfg(test)]
pub(super) mod sample;
pub(super) mod state;
pub(super) mod table;
mod timing;

pub(super) use round::Search;
