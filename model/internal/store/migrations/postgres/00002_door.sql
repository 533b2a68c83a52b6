-- +goose Up

-- Recorded.
ALTER TABLE settings ADD COLUMN plain_http boolean;

CREATE TABLE devices (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  name text COLLATE "C",
  kind text COLLATE "C",
  person text COLLATE "C",
  until text COLLATE "C",
  since bigint,
  revoked bigint
);
CREATE INDEX devices_person ON devices (person);

-- Operational: neither recorded nor rebuilt. What opens a door is never recorded,
-- not even hashed.
CREATE TABLE enrolments (
  hash bytea PRIMARY KEY NOT NULL,
  kind text COLLATE "C" NOT NULL,
  person text COLLATE "C" NOT NULL,
  name text COLLATE "C" NOT NULL,
  until text COLLATE "C" NOT NULL,
  made_by text COLLATE "C" NOT NULL,
  expires bigint NOT NULL
);
CREATE TABLE sessions (
  hash bytea PRIMARY KEY NOT NULL,
  device text COLLATE "C" NOT NULL,
  created bigint NOT NULL,
  used bigint NOT NULL
);
CREATE INDEX sessions_device ON sessions (device);
CREATE TABLE throttles (
  who text COLLATE "C" NOT NULL,
  made bigint NOT NULL,
  tries bigint NOT NULL,
  PRIMARY KEY (who, made)
);

-- Today: what is not back in time, and what is reported wrong.
CREATE INDEX loans_due ON loans (due, id) WHERE ended IS NULL AND due IS NOT NULL;
CREATE INDEX tools_kind ON tools (kind, number);
CREATE INDEX wrongs_newest ON wrongs ("at", id) WHERE cleared IS NULL;
