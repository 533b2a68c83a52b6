-- +goose Up

-- Tools that measure: what each must hold, how it was compared, and what it was
-- used for. Values stand in the bodies as decimal text with their units.

CREATE TABLE requirements (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  tool text COLLATE "C",
  body text COLLATE "C"
);

CREATE TABLE calibrations (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  tool text COLLATE "C",
  on_day text COLLATE "C",
  done_at bigint,
  entered bigint,
  "by" text COLLATE "C",
  bench boolean,
  standard text COLLATE "C",
  paper text COLLATE "C",
  body text COLLATE "C"
);

CREATE TABLE uses (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  tool text COLLATE "C",
  job text COLLATE "C",
  happened bigint,
  entered bigint,
  person text COLLATE "C",
  what text COLLATE "C",
  name text COLLATE "C",
  "count" bigint,
  verdict text COLLATE "C",
  body text COLLATE "C",
  redone_by text COLLATE "C",
  signed_by text COLLATE "C",
  signed_why text COLLATE "C",
  signed_at bigint
);

-- The serial number of what came back, where it was another than the tool's.
ALTER TABLE loans ADD COLUMN serial text COLLATE "C";

CREATE UNIQUE INDEX requirements_tool ON requirements (tool);
CREATE INDEX calibrations_tool ON calibrations (tool, on_day);
CREATE INDEX uses_tool ON uses (tool, happened);
CREATE INDEX uses_job ON uses (job, happened);
CREATE INDEX uses_name ON uses (what, name);
