-- Tasks stand in River's tables, which River's own migrations make after this one
-- and the next, in the same transactions (postgres_task.go).

-- A form that arrived is a task of its own now: nobody else claims it.
ALTER TABLE asked DROP COLUMN claimed;
