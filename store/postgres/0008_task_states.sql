-- River's tables from its version 5 to 8 (postgres_task.go).
SELECT 1;
