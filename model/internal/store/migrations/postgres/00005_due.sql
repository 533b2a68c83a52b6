-- +goose Up

-- Recorded: inspections, what a shop decided on them, and addresses of the calendar.
CREATE TABLE inspections (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  tool text COLLATE "C",
  name text COLLATE "C",
  name_key text COLLATE "C",
  on_day text COLLATE "C",
  done_at bigint,
  entered bigint,
  "by" text COLLATE "C",
  inspector text COLLATE "C",
  result text COLLATE "C",
  note text COLLATE "C",
  paper text COLLATE "C",
  tag_day text COLLATE "C",
  wrong text COLLATE "C"
);

CREATE TABLE plans (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  tool text COLLATE "C",
  name text COLLATE "C",
  name_key text COLLATE "C",
  months bigint,
  days bigint,
  whose text COLLATE "C",
  source text COLLATE "C",
  needs_paper boolean,
  strict boolean,
  first_issued text COLLATE "C",
  not_issued boolean,
  twelve_year boolean,
  dropped boolean,
  why text COLLATE "C",
  since bigint
);

CREATE TABLE feeds (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  name text COLLATE "C",
  person text COLLATE "C",
  since bigint,
  revoked bigint
);

ALTER TABLE settings ADD COLUMN lead_calibration bigint;
ALTER TABLE settings ADD COLUMN lead_inspection bigint;
ALTER TABLE settings ADD COLUMN lead_return bigint;
ALTER TABLE settings ADD COLUMN lead_warranty bigint;

CREATE INDEX inspections_tool ON inspections (tool, on_day);
CREATE UNIQUE INDEX plans_tool ON plans (tool, name_key);
CREATE INDEX feeds_person ON feeds (person);

-- Derived: what is due. Veil is empty where everybody may see it, else it says whose
-- money it tells of.
CREATE TABLE due (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  tool text COLLATE "C" NOT NULL,
  sort text COLLATE "C" NOT NULL,
  what text COLLATE "C" NOT NULL,
  day text COLLATE "C" NOT NULL,
  "at" bigint NOT NULL,
  known bigint NOT NULL,
  person text COLLATE "C" NOT NULL,
  owner text COLLATE "C" NOT NULL,
  place text COLLATE "C" NOT NULL,
  veil text COLLATE "C" NOT NULL,
  why text COLLATE "C" NOT NULL
);
CREATE INDEX due_tool ON due (tool);
CREATE INDEX due_day ON due (sort, day, id);
CREATE INDEX due_veil ON due (sort, veil, day, id);
CREATE INDEX due_person ON due (person, sort, day, id);
CREATE INDEX due_place ON due (place, sort, day, id);

-- A row without a tool says that the table is yet to be made from an older record.
INSERT INTO due (id, tool, sort, what, day, "at", known, person, owner, place, veil, why)
SELECT '', '', '', '', '', 0, 0, '', '', '', '', '' WHERE EXISTS (SELECT 1 FROM tools);

-- Operational: what opens a calendar is never recorded, not even hashed.
CREATE TABLE feed_secrets (
  hash bytea PRIMARY KEY NOT NULL,
  feed text COLLATE "C" NOT NULL
);
