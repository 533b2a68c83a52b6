-- +goose Up

-- Recorded: every change of a row here leaves a line.
-- An empty value is NULL, so that a column added later changes no image.

CREATE TABLE settings (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  name text COLLATE "C",
  zone text COLLATE "C",
  currency text COLLATE "C",
  address text COLLATE "C",
  paper text COLLATE "C",
  units text COLLATE "C"
);

CREATE TABLE people (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  name text COLLATE "C",
  name_key text COLLATE "C",
  role text COLLATE "C",
  badge text COLLATE "C",
  shares boolean,
  "left" bigint
);

CREATE TABLE places (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  parent text COLLATE "C",
  name text COLLATE "C",
  name_key text COLLATE "C",
  code text COLLATE "C"
);

CREATE TABLE jobs (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  number text COLLATE "C",
  number_key text COLLATE "C",
  vehicle text COLLATE "C",
  vin text COLLATE "C",
  safety text COLLATE "C",
  opened bigint,
  closed bigint
);

CREATE TABLE tools (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  number text COLLATE "C",
  kind text COLLATE "C",
  maker text COLLATE "C",
  maker_key text COLLATE "C",
  model text COLLATE "C",
  serial text COLLATE "C",
  serial_key text COLLATE "C",
  lot text COLLATE "C",
  owner text COLLATE "C",
  place text COLLATE "C",
  usage text COLLATE "C",
  notes text COLLATE "C",
  pieces text COLLATE "C",
  bought text COLLATE "C",
  price bigint,
  tax bigint,
  currency text COLLATE "C",
  seller text COLLATE "C",
  terms text COLLATE "C",
  owed bigint,
  owed_to text COLLATE "C",
  owed_on text COLLATE "C",
  warranty_months bigint,
  warranty_from text COLLATE "C",
  created bigint,
  gone bigint,
  gone_why text COLLATE "C",
  gone_on text COLLATE "C",
  gone_note text COLLATE "C",
  outsider text COLLATE "C",
  deposit bigint,
  deposit_currency text COLLATE "C",
  due_back text COLLATE "C",
  came_with text COLLATE "C",
  exchanged_for text COLLATE "C",
  exchanged_from text COLLATE "C",
  origin text COLLATE "C",
  earlier_numbers text COLLATE "C"
);

CREATE TABLE numbers (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  state text COLLATE "C",
  tool text COLLATE "C",
  since bigint
);

CREATE TABLE labels (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  tool text COLLATE "C",
  number text COLLATE "C",
  "at" bigint,
  why text COLLATE "C"
);

CREATE TABLE markings (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  tool text COLLATE "C",
  method text COLLATE "C",
  protection text COLLATE "C",
  spot text COLLATE "C",
  since bigint
);

CREATE TABLE loans (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  tool text COLLATE "C",
  state text COLLATE "C",
  person text COLLATE "C",
  job text COLLATE "C",
  whom text COLLATE "C",
  purpose text COLLATE "C",
  since bigint,
  entered bigint,
  due bigint,
  ended bigint,
  ended_how text COLLATE "C",
  missing text COLLATE "C",
  condition text COLLATE "C"
);

CREATE TABLE wrongs (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  tool text COLLATE "C",
  what text COLLATE "C",
  note text COLLATE "C",
  "at" bigint,
  "by" text COLLATE "C",
  cleared bigint,
  why text COLLATE "C"
);

CREATE TABLE evidence (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  tool text COLLATE "C",
  sha256 text COLLATE "C",
  kind text COLLATE "C",
  media_type text COLLATE "C",
  bytes bigint,
  name text COLLATE "C",
  received_at bigint,
  claimed_at text COLLATE "C",
  device text COLLATE "C",
  uploaded_by text COLLATE "C",
  width bigint,
  height bigint,
  withdrawn bigint
);

CREATE TABLE tokens (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  name text COLLATE "C",
  role text COLLATE "C",
  person text COLLATE "C",
  revoked bigint
);

CREATE TABLE clock (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  confirmed bigint,
  through bigint
);

CREATE TABLE imports (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  file text COLLATE "C",
  "rows" bigint,
  left_out text COLLATE "C",
  "at" bigint
);

CREATE TABLE mappings (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  name text COLLATE "C",
  name_key text COLLATE "C",
  reading text COLLATE "C"
);

CREATE UNIQUE INDEX mappings_name ON mappings (name_key);
CREATE UNIQUE INDEX people_name ON people (name_key) WHERE "left" IS NULL;
CREATE UNIQUE INDEX people_badge ON people (badge);
CREATE UNIQUE INDEX places_name ON places (coalesce(parent, ''), name_key);
CREATE UNIQUE INDEX places_code ON places (code);
CREATE UNIQUE INDEX jobs_number ON jobs (number_key);
CREATE INDEX jobs_opened ON jobs (opened, id);
CREATE UNIQUE INDEX tools_number ON tools (number);
CREATE UNIQUE INDEX tools_serial ON tools (coalesce(maker_key, ''), serial_key) WHERE serial_key IS NOT NULL;
CREATE INDEX tools_place ON tools (place);
CREATE INDEX tools_unfinished ON tools (number) WHERE kind IS NULL;
CREATE INDEX tools_owner ON tools (owner);
CREATE INDEX tools_came_with ON tools (came_with);
CREATE UNIQUE INDEX tools_origin ON tools (origin);
CREATE INDEX numbers_tool ON numbers (tool);
CREATE INDEX numbers_free ON numbers (id) WHERE state = 'issued';
CREATE INDEX labels_tool ON labels (tool);
CREATE INDEX markings_tool ON markings (tool);
CREATE UNIQUE INDEX loans_open ON loans (tool) WHERE ended IS NULL;
CREATE INDEX loans_tool ON loans (tool, since);
CREATE INDEX loans_person ON loans (person) WHERE ended IS NULL;
CREATE INDEX wrongs_open ON wrongs (tool) WHERE cleared IS NULL;
CREATE INDEX evidence_tool ON evidence (tool);
CREATE INDEX evidence_unsorted ON evidence (received_at, id) WHERE tool IS NULL;
CREATE INDEX evidence_sha256 ON evidence (sha256);
CREATE UNIQUE INDEX tokens_name ON tokens (name) WHERE revoked IS NULL;

-- The ledger. Salt and image may be withheld; the line itself never changes.
CREATE TABLE lines (
  seq bigint PRIMARY KEY NOT NULL,
  act bigint NOT NULL,
  "at" bigint NOT NULL,
  noun text COLLATE "C" NOT NULL,
  id text COLLATE "C" NOT NULL,
  rev bigint NOT NULL,
  line bytea NOT NULL,
  salt bytea,
  after bytea
);
CREATE UNIQUE INDEX lines_record ON lines (noun, id, rev);
CREATE INDEX lines_at ON lines ("at");

-- Derived: rebuilt from recorded rows and lines.
CREATE TABLE hashes (
  idx bigint PRIMARY KEY NOT NULL,
  hash bytea NOT NULL
);
CREATE TABLE line_tools (
  tool text COLLATE "C" NOT NULL,
  seq bigint NOT NULL,
  PRIMARY KEY (tool, seq)
);
CREATE TABLE words (
  word text COLLATE "C" NOT NULL,
  tool text COLLATE "C" NOT NULL,
  PRIMARY KEY (word, tool)
);
CREATE INDEX words_tool ON words (tool);
CREATE TABLE serial_keys (
  tool text COLLATE "C" PRIMARY KEY NOT NULL,
  folded text COLLATE "C" NOT NULL
);

-- Operational: neither recorded nor rebuilt.
CREATE TABLE store (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  vkey text COLLATE "C" NOT NULL,
  created bigint NOT NULL
);
CREATE TABLE checkpoints (
  size bigint PRIMARY KEY NOT NULL,
  note text COLLATE "C" NOT NULL,
  made bigint NOT NULL
);
CREATE TABLE replays (
  key_hash bytea PRIMARY KEY NOT NULL,
  print bytea NOT NULL,
  seq bigint NOT NULL,
  answer bytea NOT NULL,
  made bigint NOT NULL
);
CREATE INDEX replays_made ON replays (made);
CREATE TABLE secrets (
  hash bytea PRIMARY KEY NOT NULL,
  token text COLLATE "C" NOT NULL
);
CREATE TABLE uploads (
  sha256 text COLLATE "C" NOT NULL,
  who text COLLATE "C" NOT NULL,
  made bigint NOT NULL,
  bytes bigint NOT NULL,
  media_type text COLLATE "C" NOT NULL,
  width bigint NOT NULL,
  height bigint NOT NULL,
  claimed_at text COLLATE "C" NOT NULL,
  device text COLLATE "C" NOT NULL,
  PRIMARY KEY (sha256, who)
);
CREATE INDEX uploads_made ON uploads (made);

-- +goose StatementBegin
CREATE FUNCTION lines_stay() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION 'lines of the ledger are never changed or removed';
END $$;
-- +goose StatementEnd
CREATE TRIGGER lines_no_change BEFORE UPDATE OR DELETE ON lines FOR EACH ROW EXECUTE FUNCTION lines_stay();
CREATE TRIGGER lines_no_truncate BEFORE TRUNCATE ON lines FOR EACH STATEMENT EXECUTE FUNCTION lines_stay();
