-- More people than the owner. A row stays when somebody leaves: the journal
-- names its id.
ALTER TABLE account ADD COLUMN withdrawn INTEGER NOT NULL DEFAULT 0; -- 1: signs in no more

-- A link for somebody else than the owner: the account that it makes or gives a
-- new password, and what that person is called until there is one.
ALTER TABLE link ADD COLUMN account TEXT NOT NULL DEFAULT '';
ALTER TABLE link ADD COLUMN name TEXT NOT NULL DEFAULT '';
