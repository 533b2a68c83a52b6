-- +goose Up

-- What the shop sets itself about worth: lives of tools, the condition of one tool,
-- a price index, and the days within which a policy pays what it held back.

CREATE TABLE lives (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  sort TEXT,
  name TEXT,
  name_key TEXT,
  months INTEGER,
  floor TEXT,
  since INTEGER,
  person TEXT,
  ended INTEGER
);

CREATE TABLE conditions (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  tool TEXT,
  share TEXT,
  reason TEXT,
  since INTEGER,
  person TEXT,
  ended INTEGER
);

CREATE INDEX conditions_tool ON conditions (tool);

CREATE TABLE index_points (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  series TEXT,
  area TEXT,
  base TEXT,
  month TEXT,
  value TEXT,
  entered INTEGER,
  person TEXT,
  ended INTEGER
);

ALTER TABLE policies ADD COLUMN holdback_days INTEGER;

PRAGMA user_version = 15;
