package main

import (
	"context"
	"os"
	"strconv"

	"chargewright/store"
)

// databaseVariable names the database for every command that has one, so that an
// address with a password stands in no list of processes.
const databaseVariable = "CHARGEWRIGHT_DATABASE"

// where says which workshop a command is about.
type where struct {
	Data     string `help:"Directory that holds the workshop's database." placeholder:"DIR"`
	Database string `help:"Address of the workshop's PostgreSQL database instead, such as postgres://user@host/workshop (or in CHARGEWRIGHT_DATABASE)." placeholder:"URL"`
}

// place is what store opens. What stands on the command line goes before the
// environment.
func (w where) place() (string, error) {
	switch {
	case w.Data != "" && w.Database != "":
		return "", usage("both --data and --database are given: the workshop is in one of them")
	case w.Data == "" && w.Database == "":
		w.Database = os.Getenv(databaseVariable)
	}
	if w.Data != "" {
		if store.IsURL(w.Data) {
			return "", usage("--data is a directory; write an address as --database")
		}
		return w.Data, nil
	}
	if w.Database == "" {
		return "", usage("which workshop? Give its directory with --data DIR, or its database with --database URL")
	}
	if !store.IsURL(w.Database) {
		return "", usage("the database's address does not begin with postgres:// : write it as postgres://USER@HOST/DATABASE; a directory is given with --data")
	}
	return w.Database, nil
}

func (w where) open(ctx context.Context) (*store.DB, error) {
	place, err := w.place()
	if err != nil {
		return nil, err
	}
	return store.Open(ctx, place)
}

func (w where) openRead(ctx context.Context) (*store.DB, error) {
	place, err := w.place()
	if err != nil {
		return nil, err
	}
	return store.OpenRead(ctx, place)
}

// flag is how the workshop was given, for a command to run next. An address may
// hold a password, so it is not said again.
func (w where) flag() string {
	if w.Data != "" {
		return "--data " + strconv.Quote(w.Data)
	}
	return "--database URL"
}
