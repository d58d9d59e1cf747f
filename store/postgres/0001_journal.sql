-- What happened, in order of arrival. Nothing here is ever changed or deleted.
-- Names are compared by their bytes (COLLATE "C"), so that an index does not
-- depend on the machine's tables of letters, which change with its system.
CREATE TABLE event (
	place    BIGINT PRIMARY KEY,               -- in the whole journal, from 1 without a gap
	stream   TEXT COLLATE "C" NOT NULL,
	seq      BIGINT NOT NULL,                  -- in the stream, from 1 without a gap
	id       TEXT COLLATE "C" NOT NULL UNIQUE, -- given by who records it
	kind     TEXT NOT NULL,
	v        BIGINT NOT NULL,
	body     BYTEA NOT NULL,                   -- exact bytes
	at       TEXT NOT NULL,                    -- RFC 3339, as the device claims; '' when it claims none
	recorded TEXT NOT NULL,                    -- RFC 3339, as the server saw it
	device   TEXT NOT NULL,
	person   TEXT NOT NULL,
	seen     BIGINT NOT NULL,
	engine   TEXT NOT NULL,
	prev     BYTEA NOT NULL CHECK (length(prev) = 32), -- hash of the stream's event before
	hash     BYTEA NOT NULL CHECK (length(hash) = 32), -- of this event, over prev and all columns from stream to engine
	head     BYTEA NOT NULL CHECK (length(head) = 32), -- of the whole journal up to here
	UNIQUE (stream, seq)
);

-- refused ends whatever a trigger hangs on with the trigger's own sentence.
CREATE FUNCTION refused() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION USING MESSAGE = TG_ARGV[0], ERRCODE = 'restrict_violation'; END $$;

CREATE TRIGGER event_is_not_changed BEFORE UPDATE ON event
EXECUTE FUNCTION refused('the journal is append-only: an event is not changed');

CREATE TRIGGER event_is_not_deleted BEFORE DELETE OR TRUNCATE ON event
EXECUTE FUNCTION refused('the journal is append-only: an event is not deleted');

-- An event that would stand anywhere but at the end is refused.
CREATE FUNCTION event_follows() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
	IF NEW.place IS DISTINCT FROM (SELECT coalesce(max(place), 0) + 1 FROM event)
		OR NEW.seq IS DISTINCT FROM (SELECT coalesce(max(seq), 0) + 1 FROM event WHERE stream = NEW.stream)
		OR EXISTS (SELECT 1 FROM event WHERE id = NEW.id) THEN
		RAISE EXCEPTION USING MESSAGE = 'the journal is append-only: an event stands after the last one', ERRCODE = 'restrict_violation';
	END IF;
	RETURN NEW;
END $$;

CREATE TRIGGER event_is_appended BEFORE INSERT ON event FOR EACH ROW EXECUTE FUNCTION event_follows();

-- Bytes that events pin by their SHA-256: system files.
CREATE TABLE content (
	sha256 BYTEA PRIMARY KEY CHECK (length(sha256) = 32),
	bytes  BYTEA NOT NULL
);

CREATE TRIGGER content_is_not_changed BEFORE UPDATE ON content
EXECUTE FUNCTION refused('content is kept under its hash: it is not changed');

CREATE TRIGGER content_is_not_deleted BEFORE DELETE OR TRUNCATE ON content
EXECUTE FUNCTION refused('content is kept under its hash: it is not deleted');

CREATE FUNCTION content_agrees() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
	IF EXISTS (SELECT 1 FROM content WHERE sha256 = NEW.sha256 AND bytes IS DISTINCT FROM NEW.bytes) THEN
		RAISE EXCEPTION USING MESSAGE = 'content is kept under its hash: it is not replaced', ERRCODE = 'restrict_violation';
	END IF;
	RETURN NEW;
END $$;

CREATE TRIGGER content_is_not_replaced BEFORE INSERT ON content FOR EACH ROW EXECUTE FUNCTION content_agrees();

-- The triggers hold for replayed changes too.
ALTER TABLE event ENABLE ALWAYS TRIGGER event_is_not_changed;
ALTER TABLE event ENABLE ALWAYS TRIGGER event_is_not_deleted;
ALTER TABLE event ENABLE ALWAYS TRIGGER event_is_appended;
ALTER TABLE content ENABLE ALWAYS TRIGGER content_is_not_changed;
ALTER TABLE content ENABLE ALWAYS TRIGGER content_is_not_deleted;
ALTER TABLE content ENABLE ALWAYS TRIGGER content_is_not_replaced;

-- Names and plates of customers. Events hold the id alone, so that a row can be emptied
-- without a break in any chain. A row that was erased stays, empty, so that its
-- id is never given to somebody else.
CREATE TABLE customer (
	id      TEXT COLLATE "C" PRIMARY KEY,
	name    TEXT NOT NULL,
	plate   TEXT NOT NULL,
	sought  TEXT NOT NULL, -- name and plate as they are searched for
	contact TEXT NOT NULL,
	erased  TEXT NOT NULL DEFAULT '' -- RFC 3339; '' when it is not
);

-- One line a stream: what a page of jobs shows. It follows from the events and
-- can be made anew from them.
CREATE TABLE line (
	stream    TEXT COLLATE "C" PRIMARY KEY,
	place     BIGINT NOT NULL UNIQUE, -- of its last event: the order of the page
	seq       BIGINT NOT NULL,
	is_job    BIGINT NOT NULL,        -- 1: it began with an opening
	opened    TEXT NOT NULL,
	changed   TEXT NOT NULL,
	last      TEXT NOT NULL,          -- kind of the last event
	job       TEXT NOT NULL,
	system    TEXT NOT NULL,
	complaint TEXT NOT NULL,
	note      TEXT NOT NULL,
	sought    TEXT NOT NULL,          -- job and note as they are searched for
	customer  TEXT COLLATE "C" NOT NULL, -- customer.id, or ''
	readings  BIGINT NOT NULL,
	repairs   BIGINT NOT NULL,
	cured     TEXT NOT NULL,          -- as the last repair says; '' without one
	waits     TEXT NOT NULL,          -- for what; '' when it does not
	proved    BIGINT NOT NULL,
	signed    BIGINT NOT NULL
);

CREATE INDEX line_page ON line (is_job, place DESC);
CREATE INDEX line_customer ON line (customer);

-- Which rules the lines were made by.
CREATE TABLE line_rules (version BIGINT NOT NULL);
INSERT INTO line_rules (version) VALUES (0);
