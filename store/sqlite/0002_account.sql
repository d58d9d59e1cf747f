-- Who may sign in. These rows change; what was done stands in the journal
-- under the account's id.
CREATE TABLE account (
	id       TEXT PRIMARY KEY,
	name     TEXT NOT NULL,        -- as it is shown
	folded   TEXT NOT NULL UNIQUE, -- as it is signed in with
	role     TEXT NOT NULL,
	password TEXT NOT NULL,        -- argon2id, with its parameters and salt
	created  INTEGER NOT NULL,     -- Unix seconds, as all times here
	changed  INTEGER NOT NULL      -- the password
) STRICT;

-- Links that are good for one use. Who holds the token may set the password of
-- the one account of that role.
CREATE TABLE link (
	hash    BLOB PRIMARY KEY CHECK (length(hash) = 32), -- SHA-256 of the token
	role    TEXT NOT NULL,
	expires INTEGER NOT NULL
) STRICT;

CREATE TABLE session (
	hash    BLOB PRIMARY KEY CHECK (length(hash) = 32), -- SHA-256 of the token
	account TEXT NOT NULL REFERENCES account (id) ON DELETE CASCADE,
	created INTEGER NOT NULL,
	seen    INTEGER NOT NULL
) STRICT;

CREATE INDEX session_account ON session (account);
