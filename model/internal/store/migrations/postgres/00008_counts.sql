-- +goose Up

-- Counts: what each is over, the list that it started with, what was seen of it, how
-- its differences were settled, and how it ended. A list and an outcome are kept in rows
-- of at most 1,000 tools.

CREATE TABLE counts (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  sort text COLLATE "C",
  target text COLLATE "C",
  scope text COLLATE "C",
  how text COLLATE "C",
  listed bigint,
  drawn bigint,
  digest text COLLATE "C",
  confidence text COLLATE "C",
  missing_at_least bigint,
  tolerable bigint,
  currency text COLLATE "C",
  redraw text COLLATE "C",
  started bigint,
  started_by text COLLATE "C",
  paused bigint,
  paused_by text COLLATE "C",
  closed bigint,
  closed_by text COLLATE "C"
);
CREATE TABLE draws (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  checkpoint text COLLATE "C",
  nonce text COLLATE "C",
  chosen bigint,
  seed text COLLATE "C",
  drawn bigint,
  person text COLLATE "C"
);
CREATE TABLE frames (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  "count" text COLLATE "C",
  part bigint,
  entries text COLLATE "C"
);
CREATE TABLE sightings (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  "count" text COLLATE "C",
  tool text COLLATE "C",
  found text COLLATE "C",
  "at" bigint,
  person text COLLATE "C",
  place text COLLATE "C",
  label text COLLATE "C",
  serial text COLLATE "C",
  missing text COLLATE "C",
  condition text COLLATE "C",
  why text COLLATE "C"
);
CREATE TABLE differences (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  "count" text COLLATE "C",
  tool text COLLATE "C",
  how text COLLATE "C",
  place text COLLATE "C",
  whom text COLLATE "C",
  note text COLLATE "C",
  person text COLLATE "C",
  settled_at bigint
);
CREATE TABLE outcomes (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  "count" text COLLATE "C",
  part bigint,
  ended text COLLATE "C"
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
