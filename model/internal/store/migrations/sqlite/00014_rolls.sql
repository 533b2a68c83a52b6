-- +goose Up

-- The Merkle root over all tools, a day, and what the lines about each tool come
-- to as of the newest of them.

CREATE TABLE rolls (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  root TEXT,
  size INTEGER,
  tools INTEGER
);

CREATE TABLE leaves (
  tool TEXT PRIMARY KEY NOT NULL,
  first_seq INTEGER NOT NULL,
  last_seq INTEGER NOT NULL,
  lines INTEGER NOT NULL,
  digest BLOB NOT NULL
) WITHOUT ROWID;

-- Who dates what is signed, and what they answered.
ALTER TABLE settings ADD COLUMN time_authority TEXT;
ALTER TABLE settings ADD COLUMN time_authority_roots TEXT;

CREATE TABLE stamps (
  digest TEXT PRIMARY KEY NOT NULL,
  "at" INTEGER NOT NULL,
  answer BLOB NOT NULL
);

PRAGMA user_version = 14;
