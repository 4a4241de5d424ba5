//! Whole journeys, power cuts, and values from outside.

mod heat;
mod power;
