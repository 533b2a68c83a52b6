-- +goose Up

-- Stretches that ended while the clock stood ahead must not hide those that came after.

ALTER TABLE loans ADD COLUMN setbacks INTEGER;
DROP INDEX loans_ended;
CREATE INDEX loans_ended ON loans (tool, coalesce(setbacks, 0), ended, since, id) WHERE ended IS NOT NULL;

PRAGMA user_version = 27;
