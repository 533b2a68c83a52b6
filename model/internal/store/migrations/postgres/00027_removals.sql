-- +goose Up

-- Stretches that ended while the clock stood ahead must not hide those that came after.

ALTER TABLE loans ADD COLUMN setbacks bigint;
DROP INDEX loans_ended;
CREATE INDEX loans_ended ON loans (tool, coalesce(setbacks, 0), ended, since, id) WHERE ended IS NOT NULL;

-- Originals that nothing named are removed outside of any act, since a bucket may take its
-- time; whoever sends one again meanwhile must know.

CREATE TABLE removals (
  sha256 text COLLATE "C" PRIMARY KEY NOT NULL,
  times bigint NOT NULL,
  made bigint NOT NULL,
  done bigint
);
