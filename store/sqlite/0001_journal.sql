-- What happened, in order of arrival. Nothing here is ever changed or deleted.
CREATE TABLE event (
	place    INTEGER PRIMARY KEY,  -- in the whole journal, from 1 without a gap
	stream   TEXT NOT NULL,
	seq      INTEGER NOT NULL,     -- in the stream, from 1 without a gap
	id       TEXT NOT NULL UNIQUE, -- given by who records it
	kind     TEXT NOT NULL,
	v        INTEGER NOT NULL,
	body     BLOB NOT NULL,        -- exact bytes
	at       TEXT NOT NULL,        -- RFC 3339, as the device claims; '' when it claims none
	recorded TEXT NOT NULL,        -- RFC 3339, as the server saw it
	device   TEXT NOT NULL,
	person   TEXT NOT NULL,
	seen     INTEGER NOT NULL,
	engine   TEXT NOT NULL,
	prev     BLOB NOT NULL CHECK (length(prev) = 32), -- hash of the stream's event before
	hash     BLOB NOT NULL CHECK (length(hash) = 32), -- of this event, over prev and all columns from stream to engine
	head     BLOB NOT NULL CHECK (length(head) = 32), -- of the whole journal up to here
	UNIQUE (stream, seq)
) STRICT;

CREATE TRIGGER event_is_not_changed BEFORE UPDATE ON event
BEGIN SELECT RAISE(ABORT, 'the journal is append-only: an event is not changed'); END;

CREATE TRIGGER event_is_not_deleted BEFORE DELETE ON event
BEGIN SELECT RAISE(ABORT, 'the journal is append-only: an event is not deleted'); END;

-- INSERT OR REPLACE deletes without asking the trigger above; so an event that
-- would replace one, or stand anywhere but at the end, is refused here.
CREATE TRIGGER event_is_appended BEFORE INSERT ON event
WHEN NEW.place IS NOT (SELECT coalesce(max(place), 0) + 1 FROM event)
	OR NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM event WHERE stream = NEW.stream)
	OR EXISTS (SELECT 1 FROM event WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'the journal is append-only: an event stands after the last one'); END;

-- Bytes that events pin by their SHA-256: system files.
CREATE TABLE content (
	sha256 BLOB PRIMARY KEY CHECK (length(sha256) = 32),
	bytes  BLOB NOT NULL
) STRICT;

CREATE TRIGGER content_is_not_changed BEFORE UPDATE ON content
BEGIN SELECT RAISE(ABORT, 'content is kept under its hash: it is not changed'); END;

CREATE TRIGGER content_is_not_deleted BEFORE DELETE ON content
BEGIN SELECT RAISE(ABORT, 'content is kept under its hash: it is not deleted'); END;

CREATE TRIGGER content_is_not_replaced BEFORE INSERT ON content
WHEN EXISTS (SELECT 1 FROM content WHERE sha256 = NEW.sha256 AND bytes IS NOT NEW.bytes)
BEGIN SELECT RAISE(ABORT, 'content is kept under its hash: it is not replaced'); END;

-- Names and plates of customers. Events hold the id alone, so that a row can be emptied
-- without a break in any chain. A row that was erased stays, empty, so that its
-- id is never given to somebody else.
CREATE TABLE customer (
	id      TEXT PRIMARY KEY,
	name    TEXT NOT NULL,
	plate   TEXT NOT NULL,
	sought  TEXT NOT NULL, -- name and plate as they are searched for
	contact TEXT NOT NULL,
	erased  TEXT NOT NULL DEFAULT '' -- RFC 3339; '' when it is not
) STRICT;

-- One line a stream: what a page of jobs shows. It follows from the events and
-- can be made anew from them.
CREATE TABLE line (
	stream    TEXT PRIMARY KEY,
	place     INTEGER NOT NULL UNIQUE, -- of its last event: the order of the page
	seq       INTEGER NOT NULL,
	is_job    INTEGER NOT NULL,        -- 1: it began with an opening
	opened    TEXT NOT NULL,
	changed   TEXT NOT NULL,
	last      TEXT NOT NULL,           -- kind of the last event
	job       TEXT NOT NULL,
	system    TEXT NOT NULL,
	complaint TEXT NOT NULL,
	note      TEXT NOT NULL,
	sought    TEXT NOT NULL,           -- job and note as they are searched for
	customer  TEXT NOT NULL,           -- customer.id, or ''
	readings  INTEGER NOT NULL,
	repairs   INTEGER NOT NULL,
	cured     TEXT NOT NULL,           -- as the last repair says; '' without one
	waits     TEXT NOT NULL,           -- for what; '' when it does not
	proved    INTEGER NOT NULL,
	signed    INTEGER NOT NULL
) STRICT;

CREATE INDEX line_page ON line (is_job, place DESC);
CREATE INDEX line_customer ON line (customer);

-- Which rules the lines were made by.
CREATE TABLE line_rules (version INTEGER NOT NULL) STRICT;
INSERT INTO line_rules (version) VALUES (0);
