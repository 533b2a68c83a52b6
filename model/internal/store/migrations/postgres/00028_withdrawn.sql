-- +goose Up

-- A comparison, a tightening or a measurement that was entered by mistake is withdrawn, with
-- the reason. It stays on record, and counts nowhere.

ALTER TABLE calibrations ADD COLUMN withdrawn bigint;
ALTER TABLE calibrations ADD COLUMN withdrawn_by text COLLATE "C";
ALTER TABLE calibrations ADD COLUMN why text COLLATE "C";

ALTER TABLE uses ADD COLUMN withdrawn bigint;
ALTER TABLE uses ADD COLUMN withdrawn_by text COLLATE "C";
ALTER TABLE uses ADD COLUMN why text COLLATE "C";

-- Whether anything was withdrawn is asked with every answer, and hardly ever is.
CREATE INDEX calibrations_withdrawn ON calibrations (tool) WHERE withdrawn IS NOT NULL;
