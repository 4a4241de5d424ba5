//! Whole journeys and power cuts.

mod power;
