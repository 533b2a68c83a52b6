-- +goose Up

-- How a marking is kept from when, and what was seen at a look at it.

CREATE TABLE marking_terms (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  tool text COLLATE "C",
  marking text COLLATE "C",
  day text COLLATE "C",
  protection text COLLATE "C",
  usage text COLLATE "C",
  entered bigint,
  person text COLLATE "C",
  withdrawn bigint,
  why text COLLATE "C"
);

CREATE INDEX marking_terms_tool ON marking_terms (tool);

CREATE TABLE marking_checks (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  tool text COLLATE "C",
  marking text COLLATE "C",
  day text COLLATE "C",
  grade bigint,
  read text COLLATE "C",
  evidence text COLLATE "C",
  entered bigint,
  person text COLLATE "C",
  withdrawn bigint,
  why text COLLATE "C"
);

CREATE INDEX marking_checks_tool ON marking_checks (tool);

ALTER TABLE markings ADD COLUMN marked text COLLATE "C";
ALTER TABLE markings ADD COLUMN ended text COLLATE "C";
