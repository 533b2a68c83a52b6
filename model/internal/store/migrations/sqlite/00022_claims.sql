-- +goose Up

-- What of a claim was entered by mistake is withdrawn, and stays.

ALTER TABLE claim_facts ADD COLUMN withdrawn INTEGER;
ALTER TABLE claim_facts ADD COLUMN why TEXT;

PRAGMA user_version = 22;
