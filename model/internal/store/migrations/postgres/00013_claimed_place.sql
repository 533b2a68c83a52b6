-- +goose Up

-- What a photo says of where it was taken.
ALTER TABLE evidence ADD COLUMN claimed_place text COLLATE "C";
ALTER TABLE uploads ADD COLUMN claimed_place text COLLATE "C" NOT NULL DEFAULT '';
