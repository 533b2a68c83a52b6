-- +goose Up

-- What of a claim was entered by mistake is withdrawn, and stays.

ALTER TABLE claim_facts ADD COLUMN withdrawn bigint;
ALTER TABLE claim_facts ADD COLUMN why text COLLATE "C";

-- The sheet that the police were handed is kept as a packet is.

ALTER TABLE packets ADD COLUMN loss text COLLATE "C";

ALTER TABLE losses ADD COLUMN given_sheet text COLLATE "C";

-- What a quote is of: a new one, or what a used one sells for.

ALTER TABLE quotes ADD COLUMN basis text COLLATE "C";
