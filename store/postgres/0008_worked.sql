-- After this one River's tables are whole (postgres_task.go).

-- Work whose result a page waits for, on whichever server it is worked out.
CREATE TABLE worked (
	key    TEXT COLLATE "C" PRIMARY KEY, -- SHA-256 of all that the result hangs on
	asked  TEXT NOT NULL,
	answer TEXT NOT NULL DEFAULT '',     -- '' when there is none yet
	at     BIGINT NOT NULL               -- Unix seconds: when it was asked
);

-- What the journal was when it was last verified as a whole: one row.
CREATE TABLE verified (
	id     BIGINT PRIMARY KEY CHECK (id = 1),
	at     BIGINT NOT NULL,              -- Unix seconds
	events BIGINT NOT NULL,
	head   TEXT NOT NULL,                -- hex
	breaks BIGINT NOT NULL,
	first  TEXT NOT NULL                 -- of them, in words; '' when there is none
);
