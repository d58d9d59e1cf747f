-- Long work that a program takes by itself (package task). On PostgreSQL these
-- tasks stand in River's tables. None of it is a record, and no copy needs it.
CREATE TABLE task (
	kind  TEXT NOT NULL,
	key   TEXT NOT NULL,              -- what it is about: one task at most of a kind
	due   INTEGER NOT NULL,           -- Unix milliseconds, as all times here
	taken INTEGER NOT NULL DEFAULT 0, -- until when somebody has it; past: nobody
	tries INTEGER NOT NULL DEFAULT 0,
	PRIMARY KEY (kind, key)
) STRICT;

-- A form that arrived is a task of its own now: nobody else claims it.
ALTER TABLE asked DROP COLUMN claimed;
