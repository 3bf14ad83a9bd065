-- The first tables. This text runs unchanged on SQLite and PostgreSQL: TEXT for
-- words and times (RFC 3339, UTC, microseconds, one fixed width), BIGINT for
-- whole numbers and yes/no, DOUBLE PRECISION for measured values.
--
-- A name that refers to another row is checked at the end of the transaction,
-- so that an archive may be read back in the order of the ids.

-- +goose Up

CREATE TABLE lathes (
	id         TEXT   NOT NULL PRIMARY KEY,
	shop_id    TEXT   NOT NULL,
	device_id  TEXT   NOT NULL,
	created_at TEXT   NOT NULL,
	name       TEXT   NOT NULL,
	revision   BIGINT NOT NULL CHECK (revision > 0),
	toml       TEXT   NOT NULL,
	removed    BIGINT NOT NULL DEFAULT 0 CHECK (removed IN (0, 1)),
	UNIQUE (shop_id, name, revision)
);

CREATE TABLE materials (
	id         TEXT   NOT NULL PRIMARY KEY,
	shop_id    TEXT   NOT NULL,
	device_id  TEXT   NOT NULL,
	created_at TEXT   NOT NULL,
	name       TEXT   NOT NULL,
	revision   BIGINT NOT NULL CHECK (revision > 0),
	toml       TEXT   NOT NULL,
	removed    BIGINT NOT NULL DEFAULT 0 CHECK (removed IN (0, 1)),
	UNIQUE (shop_id, name, revision)
);

CREATE TABLE parts (
	id         TEXT   NOT NULL PRIMARY KEY,
	shop_id    TEXT   NOT NULL,
	device_id  TEXT   NOT NULL,
	created_at TEXT   NOT NULL,
	name       TEXT   NOT NULL,
	detail     TEXT   NOT NULL DEFAULT '',
	archived   BIGINT NOT NULL DEFAULT 0 CHECK (archived IN (0, 1)),
	revision   BIGINT NOT NULL CHECK (revision > 0)
);

CREATE TABLE plans (
	id            TEXT   NOT NULL PRIMARY KEY,
	shop_id       TEXT   NOT NULL,
	device_id     TEXT   NOT NULL,
	created_at    TEXT   NOT NULL,
	part_id       TEXT   NOT NULL REFERENCES parts (id) DEFERRABLE INITIALLY DEFERRED,
	revision      BIGINT NOT NULL CHECK (revision > 0),
	title         TEXT   NOT NULL,
	plan_schema   BIGINT NOT NULL CHECK (plan_schema > 0),
	engine        TEXT   NOT NULL,
	request       TEXT   NOT NULL,
	lathe_toml    TEXT   NOT NULL,
	material_toml TEXT   NOT NULL,
	result        TEXT   NOT NULL,
	UNIQUE (part_id, revision)
);

CREATE TABLE pieces (
	id         TEXT   NOT NULL PRIMARY KEY,
	shop_id    TEXT   NOT NULL,
	device_id  TEXT   NOT NULL,
	created_at TEXT   NOT NULL,
	part_id    TEXT   NOT NULL REFERENCES parts (id) DEFERRABLE INITIALLY DEFERRED,
	name       TEXT   NOT NULL,
	events     BIGINT NOT NULL DEFAULT 0 CHECK (events >= 0)
);
CREATE INDEX pieces_part ON pieces (part_id);

CREATE TABLE events (
	id         TEXT   NOT NULL PRIMARY KEY,
	shop_id    TEXT   NOT NULL,
	device_id  TEXT   NOT NULL,
	created_at TEXT   NOT NULL,
	piece_id   TEXT   NOT NULL REFERENCES pieces (id) DEFERRABLE INITIALLY DEFERRED,
	plan_id    TEXT   NOT NULL REFERENCES plans (id) DEFERRABLE INITIALLY DEFERRED,
	seq        BIGINT NOT NULL CHECK (seq > 0),
	kind       TEXT   NOT NULL,
	undoes     TEXT   REFERENCES events (id) DEFERRABLE INITIALLY DEFERRED,
	body       TEXT   NOT NULL DEFAULT '',
	UNIQUE (piece_id, seq)
);

CREATE TABLE notes (
	id         TEXT NOT NULL PRIMARY KEY,
	shop_id    TEXT NOT NULL,
	device_id  TEXT NOT NULL,
	created_at TEXT NOT NULL,
	part_id    TEXT REFERENCES parts (id) DEFERRABLE INITIALLY DEFERRED,
	piece_id   TEXT REFERENCES pieces (id) DEFERRABLE INITIALLY DEFERRED,
	event_id   TEXT REFERENCES events (id) DEFERRABLE INITIALLY DEFERRED,
	lathe      TEXT,
	body       TEXT NOT NULL
);
CREATE INDEX notes_part ON notes (part_id);
CREATE INDEX notes_piece ON notes (piece_id);

CREATE TABLE measurements (
	id         TEXT             NOT NULL PRIMARY KEY,
	shop_id    TEXT             NOT NULL,
	device_id  TEXT             NOT NULL,
	created_at TEXT             NOT NULL,
	part_id    TEXT             REFERENCES parts (id) DEFERRABLE INITIALLY DEFERRED,
	piece_id   TEXT             REFERENCES pieces (id) DEFERRABLE INITIALLY DEFERRED,
	event_id   TEXT             REFERENCES events (id) DEFERRABLE INITIALLY DEFERRED,
	lathe      TEXT,
	quantity   TEXT             NOT NULL,
	reading    DOUBLE PRECISION NOT NULL,
	unit       TEXT             NOT NULL,
	spread     DOUBLE PRECISION NOT NULL DEFAULT 0 CHECK (spread >= 0),
	detail     TEXT             NOT NULL DEFAULT ''
);
CREATE INDEX measurements_part ON measurements (part_id);
CREATE INDEX measurements_piece ON measurements (piece_id);

CREATE TABLE files (
	id         TEXT   NOT NULL PRIMARY KEY,
	shop_id    TEXT   NOT NULL,
	device_id  TEXT   NOT NULL,
	created_at TEXT   NOT NULL,
	part_id    TEXT   REFERENCES parts (id) DEFERRABLE INITIALLY DEFERRED,
	piece_id   TEXT   REFERENCES pieces (id) DEFERRABLE INITIALLY DEFERRED,
	event_id   TEXT   REFERENCES events (id) DEFERRABLE INITIALLY DEFERRED,
	lathe      TEXT,
	kind       TEXT   NOT NULL,
	name       TEXT   NOT NULL,
	media      TEXT   NOT NULL,
	sha256     TEXT   NOT NULL,
	size       BIGINT NOT NULL CHECK (size >= 0)
);
CREATE INDEX files_part ON files (part_id);
CREATE INDEX files_piece ON files (piece_id);
CREATE INDEX files_sha256 ON files (sha256);

CREATE TABLE jobs (
	id         TEXT             NOT NULL PRIMARY KEY,
	shop_id    TEXT             NOT NULL,
	device_id  TEXT             NOT NULL,
	created_at TEXT             NOT NULL,
	kind       TEXT             NOT NULL,
	arguments  TEXT             NOT NULL,
	attempts   BIGINT           NOT NULL DEFAULT 0 CHECK (attempts >= 0),
	excused    BIGINT           NOT NULL DEFAULT 0 CHECK (excused >= 0),
	running    BIGINT           NOT NULL DEFAULT 0 CHECK (running IN (0, 1)),
	check_at   TEXT             NOT NULL,
	progress   DOUBLE PRECISION NOT NULL DEFAULT 0,
	doing      TEXT             NOT NULL DEFAULT '',
	last_error TEXT             NOT NULL DEFAULT ''
);

CREATE INDEX jobs_check_at ON jobs (check_at);

CREATE TABLE job_results (
	id         TEXT   NOT NULL PRIMARY KEY,
	shop_id    TEXT   NOT NULL,
	device_id  TEXT   NOT NULL,
	created_at TEXT   NOT NULL,
	job_id     TEXT   NOT NULL UNIQUE REFERENCES jobs (id) DEFERRABLE INITIALLY DEFERRED,
	error      TEXT   NOT NULL DEFAULT '',
	name       TEXT   NOT NULL DEFAULT '',
	media      TEXT   NOT NULL DEFAULT '',
	sha256     TEXT   NOT NULL DEFAULT '',
	size       BIGINT NOT NULL DEFAULT 0 CHECK (size >= 0)
);
CREATE INDEX job_results_sha256 ON job_results (sha256);
