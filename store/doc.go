// Package store opens the database of a workshop: one file in its data
// directory, brought up to the program's schema by forward-only migrations. It
// gives transactions to the packages that own tables, and copies, inspects and
// scrubs the file.
//
// It refuses a file that is not this program's, one that a newer program has
// written, one whose migrations are not those of this program, and a file
// system that cannot keep a write-ahead log with full sync. It knows no table
// but its own list of migrations.
//
// What depends on SQLite stands here alone: the connection string, the
// migrations under sqlite/, copying and inspecting. Statements elsewhere are
// those that PostgreSQL knows too, with $1 for arguments. Another database adds
// a folder of migrations and an open function beside openFile; its Write would
// take one lock for the journal, where SQLite's immediate transaction is one.
//
// Open store.go first, then migrate.go.
package store
