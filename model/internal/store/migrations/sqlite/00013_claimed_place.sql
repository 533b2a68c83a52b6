-- +goose Up

-- What a photo says of where it was taken.
ALTER TABLE evidence ADD COLUMN claimed_place TEXT;
ALTER TABLE uploads ADD COLUMN claimed_place TEXT NOT NULL DEFAULT '';

PRAGMA user_version = 13;
