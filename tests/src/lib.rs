//! What the tests of whole programs share: fakes for the wires and the power, and nothing of the barn's own rules.

pub mod power;
