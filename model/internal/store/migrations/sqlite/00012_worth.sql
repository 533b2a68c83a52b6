-- +goose Up

-- What new tools cost by dated quotes, and what the policies say.

CREATE TABLE quotes (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  tool TEXT,
  amount INTEGER,
  currency TEXT,
  source TEXT,
  dated TEXT,
  entered INTEGER,
  person TEXT
);

CREATE INDEX quotes_tool ON quotes (tool);

CREATE TABLE policies (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  name TEXT,
  name_key TEXT,
  owner TEXT,
  employees BOOLEAN,
  limit_amount INTEGER,
  deductible INTEGER,
  currency TEXT,
  coinsurance TEXT,
  basis TEXT,
  other_covered INTEGER,
  steps TEXT,
  sublimits TEXT,
  since INTEGER,
  person TEXT,
  ended INTEGER
);

PRAGMA user_version = 12;
