-- +goose Up
-- A plan may be for what is left of one piece; empty for a plan of the whole part.
ALTER TABLE plans ADD COLUMN piece_id TEXT NOT NULL DEFAULT '';

-- Phones and tablets that were paired with the bench. Of the secret that a
-- device holds only the SHA-256 is kept.
CREATE TABLE devices (
	id         TEXT   NOT NULL PRIMARY KEY,
	shop_id    TEXT   NOT NULL,
	device_id  TEXT   NOT NULL,
	created_at TEXT   NOT NULL,
	name       TEXT   NOT NULL,
	token_hash TEXT   NOT NULL UNIQUE,
	revoked    BIGINT NOT NULL DEFAULT 0 CHECK (revoked IN (0, 1))
);
