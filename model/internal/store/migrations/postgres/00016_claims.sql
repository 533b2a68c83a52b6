-- +goose Up

-- What happened to tools, what is asked because of it, and what was handed over.

CREATE TABLE losses (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  kind text COLLATE "C",
  found bigint,
  secure bigint,
  spot text COLLATE "C",
  place text COLLATE "C",
  count text COLLATE "C",
  entered text COLLATE "C",
  locks text COLLATE "C",
  alarm text COLLATE "C",
  cameras text COLLATE "C",
  keys text COLLATE "C",
  closed text COLLATE "C",
  opened text COLLATE "C",
  agency text COLLATE "C",
  report text COLLATE "C",
  officer text COLLATE "C",
  reported text COLLATE "C",
  given bigint,
  started bigint,
  person text COLLATE "C"
);

CREATE TABLE loss_lines (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  loss text COLLATE "C",
  tool text COLLATE "C",
  line bigint,
  supplement bigint,
  confirmed bigint,
  last_seen bigint,
  seen_how text COLLATE "C",
  left_behind text COLLATE "C",
  condition text COLLATE "C",
  recovered text COLLATE "C",
  recovered_by text COLLATE "C",
  recovered_at text COLLATE "C",
  recovered_in text COLLATE "C",
  withdrawn bigint,
  withdrawn_why text COLLATE "C"
);

CREATE INDEX loss_lines_loss ON loss_lines (loss);

CREATE INDEX loss_lines_tool ON loss_lines (tool);

CREATE TABLE claims (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  kind text COLLATE "C",
  loss text COLLATE "C",
  tool text COLLATE "C",
  policy text COLLATE "C",
  owner text COLLATE "C",
  insured text COLLATE "C",
  contact text COLLATE "C",
  policy_number text COLLATE "C",
  claim_number text COLLATE "C",
  adjuster text COLLATE "C",
  adjuster_at text COLLATE "C",
  other_insurance text COLLATE "C",
  fault text COLLATE "C",
  fault_on text COLLATE "C",
  replacement text COLLATE "C",
  proof_due text COLLATE "C",
  suit_due text COLLATE "C",
  holdback_due text COLLATE "C",
  answer_due text COLLATE "C",
  opened bigint,
  person text COLLATE "C"
);

CREATE INDEX claims_loss ON claims (loss);

CREATE INDEX claims_tool ON claims (tool);

CREATE TABLE claim_facts (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  claim text COLLATE "C",
  day text COLLATE "C",
  what text COLLATE "C",
  amount bigint,
  currency text COLLATE "C",
  entered bigint,
  person text COLLATE "C"
);

CREATE INDEX claim_facts_claim ON claim_facts (claim);

CREATE TABLE claim_lines (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  claim text COLLATE "C",
  tool text COLLATE "C",
  line bigint,
  amount bigint,
  currency text COLLATE "C",
  entered bigint,
  person text COLLATE "C"
);

CREATE INDEX claim_lines_claim ON claim_lines (claim);

CREATE TABLE packets (
  id text COLLATE "C" PRIMARY KEY NOT NULL,
  rev bigint NOT NULL,
  claim text COLLATE "C",
  tool text COLLATE "C",
  supplement bigint,
  lines bigint,
  statement text COLLATE "C",
  fingerprint text COLLATE "C",
  added text COLLATE "C",
  created bigint,
  person text COLLATE "C"
);

CREATE INDEX packets_claim ON packets (claim);

CREATE INDEX packets_tool ON packets (tool);

-- A photo or paper may be about a loss as a whole.
ALTER TABLE evidence ADD COLUMN loss text COLLATE "C";

CREATE INDEX evidence_loss ON evidence (loss);

CREATE INDEX losses_started ON losses (started);

CREATE INDEX losses_count ON losses ("count");

-- A marking may show the owner's own number beside the maker's serial.
ALTER TABLE markings ADD COLUMN shows text COLLATE "C";
ALTER TABLE markings ADD COLUMN code text COLLATE "C";
