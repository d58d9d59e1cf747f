package store

import (
	"flag"
	"os"
	"slices"
	"strings"
	"testing"

	"chargewright/internal/pgtest"
)

func TestMain(m *testing.M) { os.Exit(pgtest.Run(m)) }

var update = flag.Bool("update", false, "write postgres/schema.txt anew")

// kind is a kind of database that a test runs on.
type kind struct {
	name  string
	place func(testing.TB) string // where a database may be opened that nobody has used
}

func (k kind) open(t testing.TB) *DB {
	t.Helper()
	d, err := Open(t.Context(), k.place(t))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = d.Close() })
	return d
}

// of is what stands for this kind of database.
func (k kind) of(sqlite, postgres string) string {
	if k.name == "sqlite" {
		return sqlite
	}
	return postgres
}

// each runs a test over every kind: what holds on one holds on the other.
func each(t *testing.T, do func(*testing.T, kind)) {
	t.Helper()
	for _, k := range []kind{{"sqlite", func(t testing.TB) string { return t.TempDir() }}, {"postgres", pgtest.Schema}} {
		t.Run(k.name, func(t *testing.T) { do(t, k) })
	}
}

// TestBothAreMadeAlike: the migrations of both make the same tables with the same
// columns in the same order, which copying goes by; and on PostgreSQL they make
// what schema.txt says.
func TestBothAreMadeAlike(t *testing.T) {
	want, err := tables(t.Context())
	if err != nil || len(want) < 8 {
		t.Fatalf("%v %v", want, err)
	}
	d := kind{"postgres", pgtest.Schema}.open(t)
	tx, err := d.read.BeginTx(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = tx.Rollback() }()
	for _, w := range want {
		got, err := column(t.Context(), tx, "SELECT column_name FROM information_schema.columns WHERE table_schema = current_schema() AND table_name = $1 ORDER BY ordinal_position", w.name)
		if err != nil || !slices.Equal(got, w.columns) {
			t.Errorf("table %s has columns %v on PostgreSQL, %v on SQLite (%v)", w.name, got, w.columns, err)
		}
	}
	is, err := d.schema(t.Context(), tx)
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for o := range is {
		if o.kind == "table" && !strings.HasPrefix(o.name, "river_") {
			n++
		}
	}
	if n != len(want)+1 { // and the list of migrations; River's stand for SQLite's table of tasks
		t.Errorf("%d tables on PostgreSQL, %d on SQLite", n-1, len(want))
	}
	var text strings.Builder
	for _, o := range sorted(is) {
		text.WriteString(o.kind + "\t" + o.name + "\t" + is[o] + "\n")
	}
	if *update {
		if err := os.WriteFile("postgres/schema.txt", []byte(text.String()), 0o600); err != nil {
			t.Fatal(err)
		}
		return
	}
	if text.String() != wantedText {
		t.Error("postgres/schema.txt is not what the migrations make: go test ./store -run TestBothAreMadeAlike -update writes it anew")
	}
}
