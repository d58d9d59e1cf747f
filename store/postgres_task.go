package store

import (
	"context"
	"database/sql"
	"fmt"
	"log/slog"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river/riverdriver/riverdatabasesql"
	"github.com/riverqueue/river/rivermigrate"
)

// riverAt says with which of our migrations River's tables are brought to which of
// its versions, so that our list of migrations says what stands in the schema. A newer
// River that wants more gets a migration of ours of its own. They are two because
// River's version 4 adds a value to a type that its version 6 uses, which PostgreSQL
// allows only once it is committed.
var riverAt = map[string]int{"0007_task": 5, "0008_worked": 8}

// besides has River make its tables, in our transaction and so under our lock.
func (postgres) besides(ctx context.Context, tx *sql.Tx, migration string) (commit bool, err error) {
	version, wanted := riverAt[migration]
	if !wanted {
		return false, nil
	}
	m, err := rivermigrate.New(riverdatabasesql.New(nil), &rivermigrate.Config{Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		return false, fmt.Errorf("river: %w", err)
	}
	to := &rivermigrate.MigrateOpts{TargetVersion: version}
	if _, err := m.MigrateTx(ctx, tx, rivermigrate.DirectionUp, to); err != nil { //nolint:staticcheck // deprecated since some cannot stand in one transaction: riverAt parts those
		return false, fmt.Errorf("river, to its version %d: %w", version, err)
	}
	return true, nil
}

// Server is how connections to the database's server are made, for what keeps
// connections of its own there; nil where the database is a file.
func (d *DB) Server() *pgx.ConnConfig {
	if p, ok := d.engine.(postgres); ok {
		return p.config.Copy()
	}
	return nil
}
