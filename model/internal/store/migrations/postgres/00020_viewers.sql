-- +goose Up

-- A viewer sees the packets of one claim.
ALTER TABLE devices ADD COLUMN claim text COLLATE "C";
ALTER TABLE enrolments ADD COLUMN claim text COLLATE "C" NOT NULL DEFAULT '';
