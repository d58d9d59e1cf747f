-- Work whose result a page waits for, on whichever server it is worked out.
CREATE TABLE worked (
	key    TEXT PRIMARY KEY,           -- SHA-256 of all that the result hangs on
	asked  TEXT NOT NULL,
	answer TEXT NOT NULL DEFAULT '',   -- '' when there is none yet
	at     INTEGER NOT NULL            -- Unix seconds: when it was asked
) STRICT;

-- What the journal was when it was last verified as a whole: one row.
CREATE TABLE verified (
	id     INTEGER PRIMARY KEY CHECK (id = 1),
	at     INTEGER NOT NULL,           -- Unix seconds
	events INTEGER NOT NULL,
	head   TEXT NOT NULL,              -- hex
	breaks INTEGER NOT NULL,
	first  TEXT NOT NULL               -- of them, in words; '' when there is none
) STRICT;
