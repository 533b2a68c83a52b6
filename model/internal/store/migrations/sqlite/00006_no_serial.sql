-- +goose Up

-- Why a tool has no serial: its maker marked none, or it cannot be read any more.

ALTER TABLE tools ADD COLUMN no_serial TEXT;

PRAGMA user_version = 6;
