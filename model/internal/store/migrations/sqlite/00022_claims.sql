-- +goose Up

-- What of a claim was entered by mistake is withdrawn, and stays.

ALTER TABLE claim_facts ADD COLUMN withdrawn INTEGER;
ALTER TABLE claim_facts ADD COLUMN why TEXT;

-- The sheet that the police were handed is kept as a packet is.

ALTER TABLE packets ADD COLUMN loss TEXT;

ALTER TABLE losses ADD COLUMN given_sheet TEXT;

-- What a quote is of: a new one, or what a used one sells for.

ALTER TABLE quotes ADD COLUMN basis TEXT;

PRAGMA user_version = 22;
