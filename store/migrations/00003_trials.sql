-- Trials: questions that wait to be cut for, trials as they were settled and
-- drawn before the first chip, their samples, and what became of each sample.
--
-- A trial and its samples are written together and never change. What is learned
-- about a sample later is added to its log, or is a note, a measurement or a file.

-- +goose Up

CREATE TABLE questions (
	id         TEXT   NOT NULL PRIMARY KEY,
	shop_id    TEXT   NOT NULL,
	device_id  TEXT   NOT NULL,
	created_at TEXT   NOT NULL,
	asks       TEXT   NOT NULL,
	detail     TEXT   NOT NULL DEFAULT '',
	closed     BIGINT NOT NULL DEFAULT 0 CHECK (closed IN (0, 1)),
	revision   BIGINT NOT NULL CHECK (revision > 0)
);

CREATE TABLE trials (
	id          TEXT   NOT NULL PRIMARY KEY,
	shop_id     TEXT   NOT NULL,
	device_id   TEXT   NOT NULL,
	created_at  TEXT   NOT NULL,
	question_id TEXT   REFERENCES questions (id) DEFERRABLE INITIALLY DEFERRED,
	name        TEXT   NOT NULL,
	design      TEXT   NOT NULL
);

CREATE TABLE samples (
	id         TEXT   NOT NULL PRIMARY KEY,
	shop_id    TEXT   NOT NULL,
	device_id  TEXT   NOT NULL,
	created_at TEXT   NOT NULL,
	trial_id   TEXT   NOT NULL REFERENCES trials (id) DEFERRABLE INITIALLY DEFERRED,
	run        BIGINT NOT NULL CHECK (run > 0),
	block      BIGINT NOT NULL CHECK (block > 0),
	arm        TEXT   NOT NULL,
	code       TEXT   NOT NULL,
	entries    BIGINT NOT NULL DEFAULT 0 CHECK (entries >= 0),
	UNIQUE (trial_id, run),
	UNIQUE (trial_id, code)
);

CREATE TABLE sample_entries (
	id         TEXT   NOT NULL PRIMARY KEY,
	shop_id    TEXT   NOT NULL,
	device_id  TEXT   NOT NULL,
	created_at TEXT   NOT NULL,
	sample_id  TEXT   NOT NULL REFERENCES samples (id) DEFERRABLE INITIALLY DEFERRED,
	seq        BIGINT NOT NULL CHECK (seq > 0),
	kind       TEXT   NOT NULL,
	plan_id    TEXT   REFERENCES plans (id) DEFERRABLE INITIALLY DEFERRED,
	piece_id   TEXT   REFERENCES pieces (id) DEFERRABLE INITIALLY DEFERRED,
	facts      TEXT   NOT NULL,
	UNIQUE (sample_id, seq)
);

ALTER TABLE notes ADD COLUMN sample_id TEXT REFERENCES samples (id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE measurements ADD COLUMN sample_id TEXT REFERENCES samples (id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE files ADD COLUMN sample_id TEXT REFERENCES samples (id) DEFERRABLE INITIALLY DEFERRED;
CREATE INDEX notes_sample ON notes (sample_id);
CREATE INDEX measurements_sample ON measurements (sample_id);
CREATE INDEX files_sample ON files (sample_id);
