-- +goose Up
CREATE INDEX loans_ended ON loans (tool, ended DESC, since DESC, id DESC) WHERE ended IS NOT NULL;
