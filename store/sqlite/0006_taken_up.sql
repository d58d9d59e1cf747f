-- What became of a form that was said to have arrived: whichever server finds it
-- not done does it over. A claim ends by itself when its server dies.
ALTER TABLE asked ADD COLUMN claimed INTEGER NOT NULL DEFAULT 0; -- Unix seconds; 0: by nobody
ALTER TABLE asked ADD COLUMN done    INTEGER NOT NULL DEFAULT 0; -- 1: recorded, or its refusal is told

-- Forms that were done over and could not be recorded, until somebody has read it.
CREATE TABLE unrecorded (
	ticket TEXT PRIMARY KEY,
	stream TEXT NOT NULL,
	person TEXT NOT NULL,    -- who sent it
	target TEXT NOT NULL,    -- path and query
	form   TEXT NOT NULL,
	at     INTEGER NOT NULL, -- Unix seconds: when it was sent
	why    TEXT NOT NULL     -- in words
) STRICT;

CREATE INDEX unrecorded_stream ON unrecorded (stream);
