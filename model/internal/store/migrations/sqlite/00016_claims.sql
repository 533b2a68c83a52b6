-- +goose Up

-- What happened to tools, what is asked because of it, and what was handed over.

CREATE TABLE losses (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  kind TEXT,
  found INTEGER,
  secure INTEGER,
  spot TEXT,
  place TEXT,
  count TEXT,
  entered TEXT,
  locks TEXT,
  alarm TEXT,
  cameras TEXT,
  keys TEXT,
  closed TEXT,
  opened TEXT,
  agency TEXT,
  report TEXT,
  officer TEXT,
  reported TEXT,
  given INTEGER,
  started INTEGER,
  person TEXT
);

CREATE TABLE loss_lines (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  loss TEXT,
  tool TEXT,
  line INTEGER,
  supplement INTEGER,
  confirmed INTEGER,
  last_seen INTEGER,
  seen_how TEXT,
  left_behind TEXT,
  condition TEXT,
  recovered TEXT,
  recovered_by TEXT,
  recovered_at TEXT,
  recovered_in TEXT,
  withdrawn INTEGER,
  withdrawn_why TEXT
);

CREATE INDEX loss_lines_loss ON loss_lines (loss);

CREATE INDEX loss_lines_tool ON loss_lines (tool);

CREATE TABLE claims (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  kind TEXT,
  loss TEXT,
  tool TEXT,
  policy TEXT,
  owner TEXT,
  insured TEXT,
  contact TEXT,
  policy_number TEXT,
  claim_number TEXT,
  adjuster TEXT,
  adjuster_at TEXT,
  other_insurance TEXT,
  fault TEXT,
  fault_on TEXT,
  replacement TEXT,
  proof_due TEXT,
  suit_due TEXT,
  holdback_due TEXT,
  answer_due TEXT,
  opened INTEGER,
  person TEXT
);

CREATE INDEX claims_loss ON claims (loss);

CREATE INDEX claims_tool ON claims (tool);

CREATE TABLE claim_facts (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  claim TEXT,
  day TEXT,
  what TEXT,
  amount INTEGER,
  currency TEXT,
  entered INTEGER,
  person TEXT
);

CREATE INDEX claim_facts_claim ON claim_facts (claim);

CREATE TABLE claim_lines (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  claim TEXT,
  tool TEXT,
  line INTEGER,
  amount INTEGER,
  currency TEXT,
  entered INTEGER,
  person TEXT
);

CREATE INDEX claim_lines_claim ON claim_lines (claim);

CREATE TABLE packets (
  id TEXT PRIMARY KEY NOT NULL,
  rev INTEGER NOT NULL,
  claim TEXT,
  tool TEXT,
  supplement INTEGER,
  lines INTEGER,
  statement TEXT,
  fingerprint TEXT,
  added TEXT,
  created INTEGER,
  person TEXT
);

CREATE INDEX packets_claim ON packets (claim);

CREATE INDEX packets_tool ON packets (tool);

-- A photo or paper may be about a loss as a whole.
ALTER TABLE evidence ADD COLUMN loss TEXT;

CREATE INDEX evidence_loss ON evidence (loss);

CREATE INDEX losses_started ON losses (started);

CREATE INDEX losses_count ON losses ("count");

-- A marking may show the owner's own number beside the maker's serial.
ALTER TABLE markings ADD COLUMN shows TEXT;
ALTER TABLE markings ADD COLUMN code TEXT;

PRAGMA user_version = 16;
