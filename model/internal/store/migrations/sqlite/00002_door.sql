-- +goose Up

-- Recorded.
ALTER TABLE settings ADD COLUMN plain_http BOOLEAN;

CREATE TABLE devices (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  name TEXT,
  kind TEXT,
  person TEXT,
  until TEXT,
  since INTEGER,
  revoked INTEGER
);
CREATE INDEX devices_person ON devices (person);

-- Operational: neither recorded nor rebuilt. What opens a door is never recorded,
-- not even hashed.
CREATE TABLE enrolments (
  hash BLOB PRIMARY KEY NOT NULL,
  kind TEXT NOT NULL,
  person TEXT NOT NULL,
  name TEXT NOT NULL,
  until TEXT NOT NULL,
  made_by TEXT NOT NULL,
  expires INTEGER NOT NULL
) WITHOUT ROWID;
CREATE TABLE sessions (
  hash BLOB PRIMARY KEY NOT NULL,
  device TEXT NOT NULL,
  created INTEGER NOT NULL,
  used INTEGER NOT NULL
) WITHOUT ROWID;
CREATE INDEX sessions_device ON sessions (device);
CREATE TABLE throttles (
  who TEXT NOT NULL,
  made INTEGER NOT NULL,
  tries INTEGER NOT NULL,
  PRIMARY KEY (who, made)
) WITHOUT ROWID;

-- Today: what is not back in time, and what is reported wrong.
CREATE INDEX loans_due ON loans (due, id) WHERE ended IS NULL AND due IS NOT NULL;
CREATE INDEX tools_kind ON tools (kind, number);
CREATE INDEX wrongs_newest ON wrongs ("at", id) WHERE cleared IS NULL;

PRAGMA user_version = 2;
