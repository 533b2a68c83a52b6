-- +goose Up

-- How a marking is kept from when, and what was seen at a look at it.

CREATE TABLE marking_terms (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  tool TEXT,
  marking TEXT,
  day TEXT,
  protection TEXT,
  usage TEXT,
  entered INTEGER,
  person TEXT,
  withdrawn INTEGER,
  why TEXT
);

CREATE INDEX marking_terms_tool ON marking_terms (tool);

CREATE TABLE marking_checks (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  tool TEXT,
  marking TEXT,
  day TEXT,
  grade INTEGER,
  read TEXT,
  evidence TEXT,
  entered INTEGER,
  person TEXT,
  withdrawn INTEGER,
  why TEXT
);

CREATE INDEX marking_checks_tool ON marking_checks (tool);

ALTER TABLE markings ADD COLUMN marked TEXT;
ALTER TABLE markings ADD COLUMN ended TEXT;

PRAGMA user_version = 21;
