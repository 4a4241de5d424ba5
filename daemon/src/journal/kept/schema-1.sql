-- A journal as schema 1 left it. Kept so that later versions go on reading it: never edited.
PRAGMA application_id = 1113943148;
PRAGMA user_version = 1;
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
INSERT INTO boots VALUES (1), (2);
INSERT INTO sensors VALUES (1, 'water', '7'), (2, 'climate', 'aisle');
INSERT INTO facts (seq, kind, body, delivery, boot, mono, wall) VALUES
    (1, 'broker', '"up"', NULL, 1, 1000, 1780000000000),
    (2, 'tap', '{"reader":"door","badge":"0042","a field to come":{"x":[1]}}', 12, 1, 2000, 1780000001000),
    (4, 'touch', '{"id":"k1-1","kiosk":"k1","action":{"sign_in":"june"}}', NULL, 2, 4000, 1780000003000),
    (5, 'tick', 'null', NULL, 2, 9000, NULL);
INSERT INTO readings (seq, sensor, quantity, value, own_time, delivery, boot, mono, wall) VALUES
    (3, 2, 2, 21.5, 1780000000000, -7, 1, 3000, 1780000002000);
