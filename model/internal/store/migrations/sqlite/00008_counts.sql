-- +goose Up

-- Counts: what each is over, the list that it started with, what was seen of it, how
-- its differences were settled, and how it ended. A list and an outcome are kept in rows
-- of at most 1,000 tools.

CREATE TABLE counts (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  sort TEXT,
  target TEXT,
  scope TEXT,
  how TEXT,
  listed INTEGER,
  drawn INTEGER,
  digest TEXT,
  confidence TEXT,
  missing_at_least INTEGER,
  tolerable INTEGER,
  currency TEXT,
  redraw TEXT,
  started INTEGER,
  started_by TEXT,
  paused INTEGER,
  paused_by TEXT,
  closed INTEGER,
  closed_by TEXT
);
CREATE TABLE draws (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  checkpoint TEXT,
  nonce TEXT,
  chosen INTEGER,
  seed TEXT,
  drawn INTEGER,
  person TEXT
);
CREATE TABLE frames (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  "count" TEXT,
  part INTEGER,
  entries TEXT
);
CREATE TABLE sightings (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  "count" TEXT,
  tool TEXT,
  found TEXT,
  "at" INTEGER,
  person TEXT,
  place TEXT,
  label TEXT,
  serial TEXT,
  missing TEXT,
  condition TEXT,
  why TEXT
);
CREATE TABLE differences (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  "count" TEXT,
  tool TEXT,
  how TEXT,
  place TEXT,
  whom TEXT,
  note TEXT,
  person TEXT,
  settled_at INTEGER
);
CREATE TABLE outcomes (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  "count" TEXT,
  part INTEGER,
  ended TEXT
);

CREATE INDEX counts_started ON counts (started, id);
CREATE INDEX counts_open ON counts (started, id) WHERE closed IS NULL;
CREATE UNIQUE INDEX frames_part ON frames ("count", part);
CREATE UNIQUE INDEX outcomes_part ON outcomes ("count", part);
CREATE UNIQUE INDEX sightings_tool ON sightings ("count", tool);
CREATE INDEX sightings_at ON sightings ("count", "at", id);
CREATE INDEX sightings_of ON sightings (tool, "at");
CREATE UNIQUE INDEX differences_tool ON differences ("count", tool);
CREATE INDEX differences_of ON differences (tool, settled_at);

PRAGMA user_version = 8;
