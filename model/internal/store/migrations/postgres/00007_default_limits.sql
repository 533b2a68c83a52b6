-- +goose Up

-- The ± percent that answers go by where nobody gave a job's limits, and the
-- comparison by which a tool was found to fail.
ALTER TABLE settings ADD COLUMN default_limits_percent text COLLATE "C";
ALTER TABLE wrongs ADD COLUMN calibration text COLLATE "C";
