-- +goose Up

-- What the shop sets itself about worth: lives of tools, the condition of one tool,
-- a price index, and the days within which a policy pays what it held back.

CREATE TABLE lives (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  sort text COLLATE "C",
  name text COLLATE "C",
  name_key text COLLATE "C",
  months bigint,
  floor text COLLATE "C",
  since bigint,
  person text COLLATE "C",
  ended bigint
);

CREATE TABLE conditions (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  tool text COLLATE "C",
  share text COLLATE "C",
  reason text COLLATE "C",
  since bigint,
  person text COLLATE "C",
  ended bigint
);

CREATE INDEX conditions_tool ON conditions (tool);

CREATE TABLE index_points (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  series text COLLATE "C",
  area text COLLATE "C",
  base text COLLATE "C",
  month text COLLATE "C",
  value text COLLATE "C",
  entered bigint,
  person text COLLATE "C",
  ended bigint
);

ALTER TABLE policies ADD COLUMN holdback_days bigint;
