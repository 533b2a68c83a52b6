-- +goose Up

-- Where a tool was seen, to ask of a place what was seen in it.
CREATE INDEX sightings_place ON sightings (place, "at") WHERE place IS NOT NULL;
CREATE INDEX differences_place ON differences (place, settled_at) WHERE place IS NOT NULL;

PRAGMA user_version = 19;
