//! The tables of the journal and their versions. Readings are many and small, so they have columns; every other fact is
//! a row of JSON, which a later version still reads. One sequence numbers both, so that replay can merge them.
//!
//! A migration that has shipped is never edited: the next change is another one, and the file of the old schema in
//! `kept/` stays readable.

use rusqlite_migration::{M, Migrations};

/// Marks a database as a journal of the hub: "Bell" (SQLite's `application_id`).
pub(super) const APPLICATION_ID: i64 = 0x4265_6c6c;

/// The latest schema known here (SQLite's `user_version`).
pub(super) const LATEST: i64 = STEPS.len() as i64;

const STEPS: &[M<'static>] = &[M::up(SCHEMA_1), M::up(SCHEMA_2), M::up(SCHEMA_3)];

/// All steps from an empty file to the latest schema.
pub(super) fn migrations() -> Migrations<'static> {
    Migrations::from_slice(STEPS)
}

// `value` has no type of its own: a column of type REAL would turn -0.0 into 0.0, and NaN into NULL anywhere. See
// `row::Number`. `wall` is NULL where the board had no clock.
const SCHEMA_1: &str = "
CREATE TABLE boots (
    boot INTEGER PRIMARY KEY
) STRICT;

CREATE TABLE sensors (
    id INTEGER PRIMARY KEY,
    kind TEXT NOT NULL,
    name TEXT NOT NULL,
    UNIQUE (kind, name)
) STRICT;

CREATE TABLE readings (
    seq INTEGER PRIMARY KEY,
    sensor INTEGER NOT NULL,
    quantity INTEGER NOT NULL,
    value ANY NOT NULL,
    own_time INTEGER,
    delivery INTEGER,
    boot INTEGER NOT NULL,
    mono INTEGER NOT NULL,
    wall INTEGER
) STRICT;

CREATE TABLE facts (
    seq INTEGER PRIMARY KEY,
    kind TEXT NOT NULL,
    body TEXT NOT NULL,
    delivery INTEGER,
    boot INTEGER NOT NULL,
    mono INTEGER NOT NULL,
    wall INTEGER
) STRICT;

CREATE TABLE snapshots (
    seq INTEGER PRIMARY KEY,
    format INTEGER NOT NULL,
    digest BLOB NOT NULL,
    body BLOB NOT NULL
) STRICT;
";

// The history of alarms. `raised` is NULL where the board had no clock.
const SCHEMA_2: &str = "
CREATE TABLE alarms (
    id INTEGER PRIMARY KEY,
    raised INTEGER,
    stands INTEGER NOT NULL,
    body TEXT NOT NULL
) STRICT;
";

// What must be told to people, beside the facts that it follows from. `name` tells one journal's letters from another's: the
// numbers in them begin anew with each file. A row stays when it is settled, without its body, so that the same letter is
// known should the barn order it again.
const SCHEMA_3: &str = "
CREATE TABLE outbox (
    place INTEGER PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    state INTEGER NOT NULL,
    body TEXT NOT NULL
) STRICT;

CREATE INDEX outbox_waiting ON outbox (place) WHERE state = 0;

CREATE TABLE outbox_name (
    name TEXT NOT NULL
) STRICT;

INSERT INTO outbox_name (name) VALUES (lower(hex(randomblob(5))));
";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_step_runs_on_the_one_before() {
        migrations().validate().expect("the steps make a schema");
    }
}
