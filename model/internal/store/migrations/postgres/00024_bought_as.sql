-- +goose Up

-- Whether a tool was new or used when it was bought: of a used one nobody knows how worn its
-- marking was then.
ALTER TABLE tools ADD COLUMN bought_as text COLLATE "C";
