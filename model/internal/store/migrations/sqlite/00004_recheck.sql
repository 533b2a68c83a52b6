-- +goose Up

-- Work that was in doubt after a tool was found out, and how it was settled. The
-- lines themselves follow from the record; a row is one that somebody settled.

CREATE TABLE rechecks (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  tool TEXT,
  job TEXT,
  source TEXT,
  how TEXT,
  done TEXT,
  with_tool TEXT,
  person TEXT,
  settled_at INTEGER,
  photo TEXT
);

CREATE INDEX rechecks_tool ON rechecks (tool);
CREATE INDEX calibrations_standard ON calibrations (standard) WHERE standard IS NOT NULL;

PRAGMA user_version = 4;
