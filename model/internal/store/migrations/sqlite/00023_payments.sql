-- +goose Up

-- What an amount that an insurer paid is of: actual cash leaves a rest to ask for.

ALTER TABLE claim_facts ADD COLUMN payment TEXT;

PRAGMA user_version = 23;
