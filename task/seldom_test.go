package task

import (
	"bytes"
	"log/slog"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

// TestSeldom: a database that is away is a line every half minute, with why and without the
// rest of what River says; what is no trouble is none.
func TestSeldom(t *testing.T) {
	var out bytes.Buffer
	now := time.Date(2026, 11, 28, 9, 0, 0, 0, time.UTC)
	log := slog.New(&seldom{slog.NewTextHandler(&out, nil), func() time.Time { return now }, new(atomic.Int64)}).With("part", "looks")
	log.Info("it has begun")
	log.Warn("it was late")
	for range 61 {
		log.Error("it cannot be reached", "err", "no such socket", "key", "a-secret")
		now = now.Add(time.Second)
	}
	said := out.String()
	if n := strings.Count(said, "\n"); n != 3 || strings.Count(said, "why=\"no such socket\"") != 3 || strings.Contains(said, "a-secret") || !strings.Contains(said, "tasks are not taken") {
		t.Errorf("%d lines: %s", n, said)
	}
}
