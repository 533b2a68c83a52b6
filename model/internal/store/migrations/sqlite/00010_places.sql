-- +goose Up

-- Whose place it is, and since when it is closed; photos of a place; and after how many
-- days a tool counts as long out. A closed place keeps its code and gives up its name.
ALTER TABLE places ADD COLUMN person TEXT;
ALTER TABLE places ADD COLUMN withdrawn INTEGER;
ALTER TABLE evidence ADD COLUMN place TEXT;
ALTER TABLE settings ADD COLUMN long_out_days INTEGER;
DROP INDEX places_name;
CREATE UNIQUE INDEX places_name ON places (coalesce(parent, ''), name_key) WHERE withdrawn IS NULL;
DROP INDEX evidence_unsorted;
CREATE INDEX evidence_unsorted ON evidence (received_at, id) WHERE tool IS NULL AND place IS NULL;
CREATE INDEX evidence_place ON evidence (place) WHERE place IS NOT NULL;

-- What is here to stay by its place, and what is out by how long.
DROP INDEX tools_place;
CREATE INDEX tools_place ON tools (place, number);
CREATE INDEX tools_here ON tools (place) WHERE gone IS NULL;
CREATE INDEX loans_out ON loans (since, id) WHERE ended IS NULL AND state = 'out';

PRAGMA user_version = 10;
