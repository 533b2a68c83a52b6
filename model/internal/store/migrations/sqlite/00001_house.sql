-- +goose Up

-- Recorded: every change of a row here leaves a line.
-- An empty value is NULL, so that a column added later changes no image.

CREATE TABLE settings (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  name TEXT,
  zone TEXT,
  currency TEXT,
  address TEXT,
  paper TEXT,
  units TEXT
);

CREATE TABLE people (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  name TEXT,
  name_key TEXT,
  role TEXT,
  badge TEXT,
  shares BOOLEAN,
  "left" INTEGER
);

CREATE TABLE places (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  parent TEXT,
  name TEXT,
  name_key TEXT,
  code TEXT
);

CREATE TABLE jobs (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  number TEXT,
  number_key TEXT,
  vehicle TEXT,
  vin TEXT,
  safety TEXT,
  opened INTEGER,
  closed INTEGER
);

CREATE TABLE tools (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  number TEXT,
  kind TEXT,
  maker TEXT,
  maker_key TEXT,
  model TEXT,
  serial TEXT,
  serial_key TEXT,
  lot TEXT,
  owner TEXT,
  place TEXT,
  usage TEXT,
  notes TEXT,
  pieces TEXT,
  bought TEXT,
  price INTEGER,
  tax INTEGER,
  currency TEXT,
  seller TEXT,
  terms TEXT,
  owed INTEGER,
  owed_to TEXT,
  owed_on TEXT,
  warranty_months INTEGER,
  warranty_from TEXT,
  created INTEGER,
  gone INTEGER,
  gone_why TEXT,
  gone_on TEXT,
  gone_note TEXT,
  outsider TEXT,
  deposit INTEGER,
  deposit_currency TEXT,
  due_back TEXT,
  came_with TEXT,
  exchanged_for TEXT,
  exchanged_from TEXT,
  origin TEXT,
  earlier_numbers TEXT
);

CREATE TABLE numbers (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  state TEXT,
  tool TEXT,
  since INTEGER
);

CREATE TABLE labels (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  tool TEXT,
  number TEXT,
  "at" INTEGER,
  why TEXT
);

CREATE TABLE markings (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  tool TEXT,
  method TEXT,
  protection TEXT,
  spot TEXT,
  since INTEGER
);

CREATE TABLE loans (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  tool TEXT,
  state TEXT,
  person TEXT,
  job TEXT,
  whom TEXT,
  purpose TEXT,
  since INTEGER,
  entered INTEGER,
  due INTEGER,
  ended INTEGER,
  ended_how TEXT,
  missing TEXT,
  condition TEXT
);

CREATE TABLE wrongs (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  tool TEXT,
  what TEXT,
  note TEXT,
  "at" INTEGER,
  "by" TEXT,
  cleared INTEGER,
  why TEXT
);

CREATE TABLE evidence (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  tool TEXT,
  sha256 TEXT,
  kind TEXT,
  media_type TEXT,
  bytes INTEGER,
  name TEXT,
  received_at INTEGER,
  claimed_at TEXT,
  device TEXT,
  uploaded_by TEXT,
  width INTEGER,
  height INTEGER,
  withdrawn INTEGER
);

CREATE TABLE tokens (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  name TEXT,
  role TEXT,
  person TEXT,
  revoked INTEGER
);

CREATE TABLE clock (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  confirmed INTEGER,
  through INTEGER
);

CREATE TABLE imports (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  file TEXT,
  "rows" INTEGER,
  left_out TEXT,
  "at" INTEGER
);

CREATE TABLE mappings (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  name TEXT,
  name_key TEXT,
  reading TEXT
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
  seq INTEGER PRIMARY KEY NOT NULL,
  act INTEGER NOT NULL,
  "at" INTEGER NOT NULL,
  noun TEXT NOT NULL,
  id TEXT NOT NULL,
  rev INTEGER NOT NULL,
  line BLOB NOT NULL,
  salt BLOB,
  after BLOB
);
CREATE UNIQUE INDEX lines_record ON lines (noun, id, rev);
CREATE INDEX lines_at ON lines ("at");

-- Derived: rebuilt from recorded rows and lines.
CREATE TABLE hashes (
  idx INTEGER PRIMARY KEY NOT NULL,
  hash BLOB NOT NULL
);
CREATE TABLE line_tools (
  tool TEXT NOT NULL,
  seq INTEGER NOT NULL,
  PRIMARY KEY (tool, seq)
) WITHOUT ROWID;
CREATE TABLE words (
  word TEXT NOT NULL,
  tool TEXT NOT NULL,
  PRIMARY KEY (word, tool)
) WITHOUT ROWID;
CREATE INDEX words_tool ON words (tool);
CREATE TABLE serial_keys (
  tool TEXT PRIMARY KEY NOT NULL,
  folded TEXT NOT NULL
) WITHOUT ROWID;

-- Operational: neither recorded nor rebuilt.
CREATE TABLE store (
  id TEXT PRIMARY KEY NOT NULL,
  vkey TEXT NOT NULL,
  created INTEGER NOT NULL
);
CREATE TABLE checkpoints (
  size INTEGER PRIMARY KEY NOT NULL,
  note TEXT NOT NULL,
  made INTEGER NOT NULL
);
CREATE TABLE replays (
  key_hash BLOB PRIMARY KEY NOT NULL,
  print BLOB NOT NULL,
  seq INTEGER NOT NULL,
  answer BLOB NOT NULL,
  made INTEGER NOT NULL
) WITHOUT ROWID;
CREATE INDEX replays_made ON replays (made);
CREATE TABLE secrets (
  hash BLOB PRIMARY KEY NOT NULL,
  token TEXT NOT NULL
) WITHOUT ROWID;
CREATE TABLE uploads (
  sha256 TEXT NOT NULL,
  who TEXT NOT NULL,
  made INTEGER NOT NULL,
  bytes INTEGER NOT NULL,
  media_type TEXT NOT NULL,
  width INTEGER NOT NULL,
  height INTEGER NOT NULL,
  claimed_at TEXT NOT NULL,
  device TEXT NOT NULL,
  PRIMARY KEY (sha256, who)
) WITHOUT ROWID;
CREATE INDEX uploads_made ON uploads (made);

-- +goose StatementBegin
CREATE TRIGGER lines_no_update BEFORE UPDATE ON lines BEGIN
  SELECT RAISE(ABORT, 'lines of the ledger are never changed or removed');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER lines_no_delete BEFORE DELETE ON lines BEGIN
  SELECT RAISE(ABORT, 'lines of the ledger are never changed or removed');
END;
-- +goose StatementEnd

PRAGMA application_id = 1346459468;
PRAGMA user_version = 1;
