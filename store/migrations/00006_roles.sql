-- +goose Up
-- What a paired device may do: owner, member (the default) or viewer.
ALTER TABLE devices ADD COLUMN role TEXT NOT NULL DEFAULT 'member';

-- Who changed what through the pages, and when. Rows are added, never changed.
CREATE TABLE changes (
	id         TEXT NOT NULL PRIMARY KEY,
	shop_id    TEXT NOT NULL,
	device_id  TEXT NOT NULL,
	created_at TEXT NOT NULL,
	address    TEXT NOT NULL,
	made       TEXT NOT NULL DEFAULT ''
);
