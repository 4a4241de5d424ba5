//! Heat: to be written.
