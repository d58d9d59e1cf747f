-- Passkeys: keys that devices keep, with which somebody signs in without the
-- password. What stands here opens nothing: it is the public half.
CREATE TABLE passkey (
	id         TEXT PRIMARY KEY,
	account    TEXT NOT NULL REFERENCES account (id) ON DELETE CASCADE,
	credential BLOB NOT NULL UNIQUE, -- the id that the device gave it
	site       TEXT NOT NULL,        -- the name under which pages must be open for it
	name       TEXT NOT NULL,        -- what its holder calls it
	record     TEXT NOT NULL,        -- public key, counter and flags, as JSON
	created    INTEGER NOT NULL,     -- Unix seconds
	used       INTEGER NOT NULL      -- 0: never
) STRICT;

CREATE INDEX passkey_account ON passkey (account);

-- What devices were asked to sign and have not answered: good once, for minutes,
-- on any server of the workshop.
CREATE TABLE challenge (
	hash    BLOB PRIMARY KEY CHECK (length(hash) = 32), -- SHA-256 of the challenge
	account TEXT NOT NULL,    -- who adds a passkey; '' when somebody signs in
	asked   TEXT NOT NULL,    -- what the answer is held against, as JSON
	expires INTEGER NOT NULL
) STRICT;

CREATE INDEX challenge_expires ON challenge (expires);
