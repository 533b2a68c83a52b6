-- +goose Up

-- What does not add up on a job, what is held on it for the customer, and who looked.
CREATE TABLE findings (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  job TEXT,
  tool TEXT,
  loan TEXT,
  held TEXT,
  "sort" TEXT,
  what TEXT,
  "count" INTEGER,
  "at" INTEGER,
  person TEXT,
  answer TEXT,
  spot TEXT,
  whom TEXT,
  answered_by TEXT,
  answered_at INTEGER,
  missed_at INTEGER,
  told_at INTEGER,
  told_how TEXT
);

CREATE TABLE held (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  job TEXT,
  what TEXT,
  "at" INTEGER,
  person TEXT,
  given_at INTEGER,
  given_to TEXT,
  given_by TEXT
);

CREATE TABLE looks (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  job TEXT,
  tool TEXT,
  "sort" TEXT,
  "before" TEXT,
  "at" INTEGER,
  person TEXT,
  missing TEXT,
  result TEXT,
  words TEXT
);

ALTER TABLE jobs ADD COLUMN closed_by TEXT;
ALTER TABLE jobs ADD COLUMN override_why TEXT;
ALTER TABLE jobs ADD COLUMN override_by TEXT;
ALTER TABLE jobs ADD COLUMN override_at INTEGER;
ALTER TABLE jobs ADD COLUMN reopened_at INTEGER;
ALTER TABLE jobs ADD COLUMN reopened_by TEXT;
ALTER TABLE jobs ADD COLUMN reopened_why TEXT;
ALTER TABLE loans ADD COLUMN broken TEXT;
ALTER TABLE loans ADD COLUMN fragment_missing BOOLEAN;

CREATE INDEX findings_job ON findings (job, "at");
CREATE INDEX findings_loan ON findings (loan) WHERE loan IS NOT NULL;
CREATE INDEX findings_unsettled ON findings ("at", id) WHERE answered_at IS NULL OR (missed_at IS NOT NULL AND told_at IS NULL);
CREATE INDEX held_job ON held (job, "at");
CREATE INDEX looks_job ON looks (job, "at");
CREATE INDEX loans_job ON loans (job, since) WHERE job IS NOT NULL;

PRAGMA user_version = 9;
