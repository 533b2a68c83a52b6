-- +goose Up

-- How a count by strata parts its list, where somebody said so: a stratum a line.
ALTER TABLE counts ADD COLUMN strata TEXT;

PRAGMA user_version = 18;
