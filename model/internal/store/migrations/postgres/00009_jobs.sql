-- +goose Up

-- What does not add up on a job, what is held on it for the customer, and who looked.
CREATE TABLE findings (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  job text COLLATE "C",
  tool text COLLATE "C",
  loan text COLLATE "C",
  held text COLLATE "C",
  "sort" text COLLATE "C",
  what text COLLATE "C",
  "count" bigint,
  "at" bigint,
  person text COLLATE "C",
  answer text COLLATE "C",
  spot text COLLATE "C",
  whom text COLLATE "C",
  answered_by text COLLATE "C",
  answered_at bigint,
  missed_at bigint,
  told_at bigint,
  told_how text COLLATE "C"
);

CREATE TABLE held (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  job text COLLATE "C",
  what text COLLATE "C",
  "at" bigint,
  person text COLLATE "C",
  given_at bigint,
  given_to text COLLATE "C",
  given_by text COLLATE "C"
);

CREATE TABLE looks (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  job text COLLATE "C",
  tool text COLLATE "C",
  "sort" text COLLATE "C",
  "before" text COLLATE "C",
  "at" bigint,
  person text COLLATE "C",
  missing text COLLATE "C",
  result text COLLATE "C",
  words text COLLATE "C"
);

ALTER TABLE jobs ADD COLUMN closed_by text COLLATE "C";
ALTER TABLE jobs ADD COLUMN override_why text COLLATE "C";
ALTER TABLE jobs ADD COLUMN override_by text COLLATE "C";
ALTER TABLE jobs ADD COLUMN override_at bigint;
ALTER TABLE jobs ADD COLUMN reopened_at bigint;
ALTER TABLE jobs ADD COLUMN reopened_by text COLLATE "C";
ALTER TABLE jobs ADD COLUMN reopened_why text COLLATE "C";
ALTER TABLE loans ADD COLUMN broken text COLLATE "C";
ALTER TABLE loans ADD COLUMN fragment_missing boolean;

CREATE INDEX findings_job ON findings (job, "at");
CREATE INDEX findings_loan ON findings (loan) WHERE loan IS NOT NULL;
CREATE INDEX findings_unsettled ON findings ("at", id) WHERE answered_at IS NULL OR (missed_at IS NOT NULL AND told_at IS NULL);
CREATE INDEX held_job ON held (job, "at");
CREATE INDEX looks_job ON looks (job, "at");
CREATE INDEX loans_job ON loans (job, since) WHERE job IS NOT NULL;
