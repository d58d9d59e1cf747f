package task

import (
	"context"
	"log/slog"
	"sync/atomic"
	"time"
)

// troubleEvery keeps a database that is away from filling the log.
const troubleEvery = 30 * time.Second

// seldom lets of River's own log through what somebody has to look at, in a line of ours and
// now and then: while a database is away each of its parts says so every second. That a
// task failed is no such line: do says it.
type seldom struct {
	slog.Handler
	now  func() time.Time
	said *atomic.Int64 // when it last said something, in Unix nanoseconds
}

// Enabled implements slog.Handler.
func (*seldom) Enabled(_ context.Context, l slog.Level) bool { return l >= slog.LevelError }

// Handle implements slog.Handler.
func (s *seldom) Handle(ctx context.Context, r slog.Record) error {
	last, now := s.said.Load(), s.now()
	if now.Sub(time.Unix(0, last)) < troubleEvery || !s.said.CompareAndSwap(last, now.UnixNano()) {
		return nil
	}
	ours := slog.NewRecord(r.Time, r.Level, "tasks are not taken as they should be", r.PC)
	ours.AddAttrs(slog.String("what", r.Message))
	r.Attrs(func(a slog.Attr) bool {
		if a.Key == "err" || a.Key == "error" {
			ours.AddAttrs(slog.Attr{Key: "why", Value: a.Value})
		}
		return true
	})
	return s.Handler.Handle(ctx, ours)
}

// WithAttrs implements slog.Handler.
func (s *seldom) WithAttrs(a []slog.Attr) slog.Handler {
	return &seldom{s.Handler.WithAttrs(a), s.now, s.said}
}

// WithGroup implements slog.Handler: in a line of ours there are no groups.
func (s *seldom) WithGroup(string) slog.Handler { return s }
