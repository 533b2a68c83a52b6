-- +goose Up

-- Recorded: inspections, what a shop decided on them, and addresses of the calendar.
CREATE TABLE inspections (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  tool TEXT,
  name TEXT,
  name_key TEXT,
  on_day TEXT,
  done_at INTEGER,
  entered INTEGER,
  "by" TEXT,
  inspector TEXT,
  result TEXT,
  note TEXT,
  paper TEXT,
  tag_day TEXT,
  wrong TEXT
);

CREATE TABLE plans (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  tool TEXT,
  name TEXT,
  name_key TEXT,
  months INTEGER,
  days INTEGER,
  whose TEXT,
  source TEXT,
  needs_paper BOOLEAN,
  strict BOOLEAN,
  first_issued TEXT,
  not_issued BOOLEAN,
  twelve_year BOOLEAN,
  dropped BOOLEAN,
  why TEXT,
  since INTEGER
);

CREATE TABLE feeds (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  name TEXT,
  person TEXT,
  since INTEGER,
  revoked INTEGER
);

ALTER TABLE settings ADD COLUMN lead_calibration INTEGER;
ALTER TABLE settings ADD COLUMN lead_inspection INTEGER;
ALTER TABLE settings ADD COLUMN lead_return INTEGER;
ALTER TABLE settings ADD COLUMN lead_warranty INTEGER;

CREATE INDEX inspections_tool ON inspections (tool, on_day);
CREATE UNIQUE INDEX plans_tool ON plans (tool, name_key);
CREATE INDEX feeds_person ON feeds (person);

-- Derived: what is due. Veil is empty where everybody may see it, else it says whose
-- money it tells of.
CREATE TABLE due (
  id TEXT PRIMARY KEY NOT NULL,
  tool TEXT NOT NULL,
  sort TEXT NOT NULL,
  what TEXT NOT NULL,
  day TEXT NOT NULL,
  "at" INTEGER NOT NULL,
  known INTEGER NOT NULL,
  person TEXT NOT NULL,
  owner TEXT NOT NULL,
  place TEXT NOT NULL,
  veil TEXT NOT NULL,
  why TEXT NOT NULL
) WITHOUT ROWID;
CREATE INDEX due_tool ON due (tool);
CREATE INDEX due_day ON due (sort, day, id);
CREATE INDEX due_veil ON due (sort, veil, day, id);
CREATE INDEX due_person ON due (person, sort, day, id);
CREATE INDEX due_place ON due (place, sort, day, id);

-- A row without a tool says that the table is yet to be made from an older record.
INSERT INTO due (id, tool, sort, what, day, "at", known, person, owner, place, veil, why)
SELECT '', '', '', '', '', 0, 0, '', '', '', '', '' WHERE EXISTS (SELECT 1 FROM tools);

-- Operational: what opens a calendar is never recorded, not even hashed.
CREATE TABLE feed_secrets (
  hash BLOB PRIMARY KEY NOT NULL,
  feed TEXT NOT NULL
) WITHOUT ROWID;

PRAGMA user_version = 5;
