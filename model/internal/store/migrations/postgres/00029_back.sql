-- +goose Up

-- When a tool that was gone was in the register again: found after a loss, or here after all.
-- Whose hands it is in begins anew then.

ALTER TABLE tools ADD COLUMN back_since bigint;
