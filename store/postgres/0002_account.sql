-- Who may sign in. These rows change; what was done stands in the journal
-- under the account's id.
CREATE TABLE account (
	id       TEXT COLLATE "C" PRIMARY KEY,
	name     TEXT NOT NULL,                    -- as it is shown
	folded   TEXT COLLATE "C" NOT NULL UNIQUE, -- as it is signed in with
	role     TEXT NOT NULL,
	password TEXT NOT NULL,                    -- argon2id, with its parameters and salt
	created  BIGINT NOT NULL,                  -- Unix seconds, as all times here
	changed  BIGINT NOT NULL                   -- the password
);

-- Links that are good for one use. Who holds the token may set the password of
-- the one account of that role.
CREATE TABLE link (
	hash    BYTEA PRIMARY KEY CHECK (length(hash) = 32), -- SHA-256 of the token
	role    TEXT NOT NULL,
	expires BIGINT NOT NULL
);

CREATE TABLE session (
	hash    BYTEA PRIMARY KEY CHECK (length(hash) = 32), -- SHA-256 of the token
	account TEXT COLLATE "C" NOT NULL REFERENCES account (id) ON DELETE CASCADE,
	created BIGINT NOT NULL,
	seen    BIGINT NOT NULL
);

CREATE INDEX session_account ON session (account);
