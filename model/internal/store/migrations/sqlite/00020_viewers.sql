-- +goose Up

-- A viewer sees the packets of one claim.
ALTER TABLE devices ADD COLUMN claim TEXT;
ALTER TABLE enrolments ADD COLUMN claim TEXT NOT NULL DEFAULT '';

PRAGMA user_version = 20;
