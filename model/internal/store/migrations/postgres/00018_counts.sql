-- +goose Up

-- How a count by strata parts its list, where somebody said so: a stratum a line.
ALTER TABLE counts ADD COLUMN strata text COLLATE "C";

-- What counts left missing, newest first; and which tools have a serial number, for a
-- label that cannot be read.
CREATE INDEX differences_missing ON differences (settled_at, id) WHERE how = 'missing';
CREATE INDEX IF NOT EXISTS serial_keys_folded ON serial_keys (folded);
