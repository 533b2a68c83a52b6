-- +goose Up

-- Where the originals are: NULL is the folder beside the records.

ALTER TABLE store ADD COLUMN originals TEXT;

-- Where the shop moved to, and so stands no more; and from where it is being moved, and
-- so does not stand yet.

ALTER TABLE store ADD COLUMN moved_to TEXT;
ALTER TABLE store ADD COLUMN moving_from TEXT;

PRAGMA user_version = 25;
