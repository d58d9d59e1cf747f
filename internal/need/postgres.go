package need

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
)

// debian is where Debian keeps the programs of its PostgreSQL versions, off the
// PATH.
const debian = "/usr/lib/postgresql"

// Postgres returns the directory of the programs initdb and postgres. Where
// there is none the test is skipped, or fails under REQUIRE_ALL=1.
func Postgres(t testing.TB) string {
	t.Helper()
	dir := postgresIn(debian)
	if dir == "" {
		missing(t, "postgres")
	}
	return dir
}

// postgresIn looks on the PATH, then for the newest version under root.
func postgresIn(root string) string {
	both := func(dir string) bool {
		for _, name := range []string{"initdb", "postgres"} {
			if info, err := os.Stat(filepath.Join(dir, name)); err != nil || info.Mode()&0o111 == 0 {
				return false
			}
		}
		return true
	}
	if path, err := exec.LookPath("postgres"); err == nil {
		if path, err = filepath.EvalSymlinks(path); err == nil && both(filepath.Dir(path)) {
			return filepath.Dir(path)
		}
	}
	found, _ := filepath.Glob(filepath.Join(root, "*", "bin")) // the pattern is well formed
	version := func(dir string) int {
		n, _ := strconv.Atoi(filepath.Base(filepath.Dir(dir))) // what is no number comes last
		return n
	}
	slices.SortFunc(found, func(a, b string) int { return version(b) - version(a) })
	for _, dir := range found {
		if both(dir) {
			return dir
		}
	}
	return ""
}

// FindPostgres is the folder of PostgreSQL's own programs, "" when there is none:
// for what is no test.
func FindPostgres() string { return postgresIn(debian) }
