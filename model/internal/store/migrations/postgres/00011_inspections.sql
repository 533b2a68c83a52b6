-- +goose Up

-- Recorded: what happened, after which the shop asked for a check.
ALTER TABLE plans ADD COLUMN again text COLLATE "C";
ALTER TABLE plans ADD COLUMN again_day text COLLATE "C";
ALTER TABLE plans ADD COLUMN again_at bigint;

-- Everything ever reported wrong with a tool, cleared or not.
CREATE INDEX wrongs_tool ON wrongs (tool, "at");

-- Operational: when an address of the calendar was asked last; 0 is never.
ALTER TABLE feed_secrets ADD COLUMN used bigint NOT NULL DEFAULT 0;

-- What is due follows from more than before: it is made anew at the next start.
INSERT INTO due (id, tool, sort, what, day, "at", known, person, owner, place, veil, why)
SELECT '', '', '', '', '', 0, 0, '', '', '', '', '' WHERE EXISTS (SELECT 1 FROM tools) AND NOT EXISTS (SELECT 1 FROM due WHERE id = '');
