-- Polls: crops of photographs that people compare two by two without knowing which
-- is which, and their votes. The log of votes only grows; the tallies are what a
-- fit needs of it, added up in the same transaction.

-- +goose Up

CREATE TABLE polls (
	id         TEXT   NOT NULL PRIMARY KEY,
	shop_id    TEXT   NOT NULL,
	device_id  TEXT   NOT NULL,
	created_at TEXT   NOT NULL,
	name       TEXT   NOT NULL,
	asks       TEXT   NOT NULL,
	public     TEXT   NOT NULL UNIQUE,
	secret     TEXT   NOT NULL,
	trial_id   TEXT   NOT NULL DEFAULT '',
	baseline   TEXT   NOT NULL DEFAULT '',
	changed    TEXT   NOT NULL DEFAULT '',
	opened_at  TEXT   NOT NULL DEFAULT '',
	closed_at  TEXT   NOT NULL DEFAULT '',
	votes      BIGINT NOT NULL DEFAULT 0 CHECK (votes >= 0),
	again      BIGINT NOT NULL DEFAULT 0 CHECK (again >= 0)
);
CREATE INDEX polls_trial ON polls (trial_id);

CREATE TABLE poll_photos (
	id         TEXT   NOT NULL PRIMARY KEY,
	shop_id    TEXT   NOT NULL,
	device_id  TEXT   NOT NULL,
	created_at TEXT   NOT NULL,
	poll_id    TEXT   NOT NULL REFERENCES polls (id) DEFERRABLE INITIALLY DEFERRED,
	name       TEXT   NOT NULL,
	sha256     TEXT   NOT NULL,
	size       BIGINT NOT NULL CHECK (size >= 0)
);
CREATE INDEX poll_photos_poll ON poll_photos (poll_id);
CREATE INDEX poll_photos_sha256 ON poll_photos (sha256);

CREATE TABLE poll_items (
	id         TEXT             NOT NULL PRIMARY KEY,
	shop_id    TEXT             NOT NULL,
	device_id  TEXT             NOT NULL,
	created_at TEXT             NOT NULL,
	poll_id    TEXT             NOT NULL REFERENCES polls (id) DEFERRABLE INITIALLY DEFERRED,
	photo_id   TEXT             NOT NULL REFERENCES poll_photos (id) DEFERRABLE INITIALLY DEFERRED,
	place      BIGINT           NOT NULL CHECK (place >= 0),
	sample     TEXT             NOT NULL,
	arm        TEXT             NOT NULL DEFAULT '',
	middle_x   DOUBLE PRECISION NOT NULL,
	middle_y   DOUBLE PRECISION NOT NULL,
	side       DOUBLE PRECISION NOT NULL,
	turn       DOUBLE PRECISION NOT NULL,
	sha256     TEXT             NOT NULL DEFAULT '',
	UNIQUE (poll_id, place)
);
CREATE INDEX poll_items_sha256 ON poll_items (sha256);

CREATE TABLE votes (
	id         TEXT   NOT NULL PRIMARY KEY,
	shop_id    TEXT   NOT NULL,
	device_id  TEXT   NOT NULL,
	created_at TEXT   NOT NULL,
	poll_id    TEXT   NOT NULL REFERENCES polls (id) DEFERRABLE INITIALLY DEFERRED,
	judge      TEXT   NOT NULL,
	pair       BIGINT NOT NULL,
	again      BIGINT NOT NULL CHECK (again IN (0, 1)),
	left_item  BIGINT NOT NULL CHECK (left_item >= 0),
	right_item BIGINT NOT NULL CHECK (right_item >= 0),
	outcome    BIGINT NOT NULL CHECK (outcome IN (0, 1, 2)),
	chosen     TEXT   NOT NULL,
	took_ms    BIGINT NOT NULL CHECK (took_ms >= 0),
	UNIQUE (poll_id, judge, pair, again)
);

CREATE TABLE poll_tallies (
	id         TEXT   NOT NULL PRIMARY KEY,
	shop_id    TEXT   NOT NULL,
	device_id  TEXT   NOT NULL,
	created_at TEXT   NOT NULL,
	poll_id    TEXT   NOT NULL REFERENCES polls (id) DEFERRABLE INITIALLY DEFERRED,
	bucket     BIGINT NOT NULL CHECK (bucket >= 0),
	left_item  BIGINT NOT NULL,
	right_item BIGINT NOT NULL,
	left_wins  BIGINT NOT NULL CHECK (left_wins >= 0),
	right_wins BIGINT NOT NULL CHECK (right_wins >= 0),
	ties       BIGINT NOT NULL CHECK (ties >= 0),
	UNIQUE (poll_id, bucket, left_item, right_item)
);

-- The keys by which visitors are told apart while a poll is open. Not exported, and
-- destroyed when the poll closes.
CREATE TABLE poll_keys (
	poll_id TEXT NOT NULL PRIMARY KEY REFERENCES polls (id) DEFERRABLE INITIALLY DEFERRED,
	visitor TEXT NOT NULL
);
