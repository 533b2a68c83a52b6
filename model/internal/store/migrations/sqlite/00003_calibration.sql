-- +goose Up

-- Tools that measure: what each must hold, how it was compared, and what it was
-- used for. Values stand in the bodies as decimal text with their units.

CREATE TABLE requirements (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  tool TEXT,
  body TEXT
);

CREATE TABLE calibrations (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  tool TEXT,
  on_day TEXT,
  done_at INTEGER,
  entered INTEGER,
  "by" TEXT,
  bench BOOLEAN,
  standard TEXT,
  paper TEXT,
  body TEXT
);

CREATE TABLE uses (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  tool TEXT,
  job TEXT,
  happened INTEGER,
  entered INTEGER,
  person TEXT,
  what TEXT,
  name TEXT,
  "count" INTEGER,
  verdict TEXT,
  body TEXT,
  redone_by TEXT,
  signed_by TEXT,
  signed_why TEXT,
  signed_at INTEGER
);

-- The serial number of what came back, where it was another than the tool's.
ALTER TABLE loans ADD COLUMN serial TEXT;

CREATE UNIQUE INDEX requirements_tool ON requirements (tool);
CREATE INDEX calibrations_tool ON calibrations (tool, on_day);
CREATE INDEX uses_tool ON uses (tool, happened);
CREATE INDEX uses_job ON uses (job, happened);
CREATE INDEX uses_name ON uses (what, name);

PRAGMA user_version = 3;
