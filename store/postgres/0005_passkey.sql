-- Passkeys: keys that devices keep, with which somebody signs in without the
-- password. What stands here opens nothing: it is the public half.
CREATE TABLE passkey (
	id         TEXT COLLATE "C" PRIMARY KEY,
	account    TEXT COLLATE "C" NOT NULL REFERENCES account (id) ON DELETE CASCADE,
	credential BYTEA NOT NULL UNIQUE, -- the id that the device gave it
	site       TEXT NOT NULL,         -- the name under which pages must be open for it
	name       TEXT NOT NULL,         -- what its holder calls it
	record     TEXT NOT NULL,         -- public key, counter and flags, as JSON
	created    BIGINT NOT NULL,       -- Unix seconds
	used       BIGINT NOT NULL        -- 0: never
);

CREATE INDEX passkey_account ON passkey (account);

-- What devices were asked to sign and have not answered: good once, for minutes,
-- on any server of the workshop.
CREATE TABLE challenge (
	hash    BYTEA PRIMARY KEY CHECK (length(hash) = 32), -- SHA-256 of the challenge
	account TEXT COLLATE "C" NOT NULL, -- who adds a passkey; '' when somebody signs in
	asked   TEXT NOT NULL,             -- what the answer is held against, as JSON
	expires BIGINT NOT NULL
);

CREATE INDEX challenge_expires ON challenge (expires);
