-- +goose Up

-- The Merkle root over all tools, a day, and what the lines about each tool come
-- to as of the newest of them.

CREATE TABLE rolls (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  root text COLLATE "C",
  size bigint,
  tools bigint
);

CREATE TABLE leaves (
  tool text COLLATE "C" PRIMARY KEY NOT NULL,
  first_seq bigint NOT NULL,
  last_seq bigint NOT NULL,
  lines bigint NOT NULL,
  digest bytea NOT NULL
);

-- Who dates what is signed, and what they answered.
ALTER TABLE settings ADD COLUMN time_authority text COLLATE "C";
ALTER TABLE settings ADD COLUMN time_authority_roots text COLLATE "C";

CREATE TABLE stamps (
  digest text COLLATE "C" PRIMARY KEY NOT NULL,
  "at" bigint NOT NULL,
  answer bytea NOT NULL
);
