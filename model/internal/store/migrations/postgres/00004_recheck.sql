-- +goose Up

-- Work that was in doubt after a tool was found out, and how it was settled. The
-- lines themselves follow from the record; a row is one that somebody settled.

CREATE TABLE rechecks (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  tool text COLLATE "C",
  job text COLLATE "C",
  source text COLLATE "C",
  how text COLLATE "C",
  done text COLLATE "C",
  with_tool text COLLATE "C",
  person text COLLATE "C",
  settled_at bigint,
  photo text COLLATE "C"
);

CREATE INDEX rechecks_tool ON rechecks (tool);
CREATE INDEX calibrations_standard ON calibrations (standard) WHERE standard IS NOT NULL;
