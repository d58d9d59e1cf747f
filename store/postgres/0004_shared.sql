-- What the servers of a workshop share for some minutes. Nothing here is needed
-- once it has grown old, and none of it is a record.

-- Forms whose answer takes long: whichever server is asked for the answer can
-- work it out. What they record has an id, so that it is recorded once.
CREATE TABLE asked (
	ticket TEXT COLLATE "C" PRIMARY KEY,
	person TEXT NOT NULL,   -- who sent it: nobody else is answered
	target TEXT NOT NULL,   -- path and query
	form   TEXT NOT NULL,
	at     BIGINT NOT NULL  -- Unix seconds
);

-- How far sign-ins are ahead of their pace (account/pace.go).
CREATE TABLE pace (
	key  BYTEA PRIMARY KEY CHECK (length(key) = 32), -- SHA-256 of what is paced
	free BIGINT NOT NULL                             -- Unix milliseconds: from then on it limits nobody
);

CREATE INDEX pace_free ON pace (free);
