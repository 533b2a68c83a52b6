-- +goose Up

-- The stretch of a tool that ended last is asked at every take and return, and a tool
-- may have thousands.

CREATE INDEX loans_ended ON loans (tool, ended, since, id) WHERE ended IS NOT NULL;

PRAGMA user_version = 23;
