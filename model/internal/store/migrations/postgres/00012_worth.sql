-- +goose Up

-- What new tools cost by dated quotes, and what the policies say.

CREATE TABLE quotes (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  tool text COLLATE "C",
  amount bigint,
  currency text COLLATE "C",
  source text COLLATE "C",
  dated text COLLATE "C",
  entered bigint,
  person text COLLATE "C"
);

CREATE INDEX quotes_tool ON quotes (tool);

CREATE TABLE policies (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  name text COLLATE "C",
  name_key text COLLATE "C",
  owner text COLLATE "C",
  employees boolean,
  limit_amount bigint,
  deductible bigint,
  currency text COLLATE "C",
  coinsurance text COLLATE "C",
  basis text COLLATE "C",
  other_covered bigint,
  steps text COLLATE "C",
  sublimits text COLLATE "C",
  since bigint,
  person text COLLATE "C",
  ended bigint
);
