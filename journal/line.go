package journal

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"

	"chargewright/job"
)

// lineRules is raised whenever lineOf or the line's columns change: lines drawn
// by other rules are made anew when the journal is opened.
const lineRules = 5

// Line is what the list shows of one job. It follows from the events: a cache,
// never a record.
type Line struct {
	Stream    string
	Seq       int   // last event of the stream
	Place     int64 // its place in the whole journal: the list's order, latest first
	Hash      Sum   // its hash
	Opened    time.Time
	Changed   time.Time // when the last event was recorded
	Last      job.Kind
	Job       string // as the opening names it
	System    string
	Complaint string // its kind
	Note      string
	Customer  string // id; "" = none
	Readings  int    // that were not taken back
	Repairs   int    // the same
	Cured     string // as the last repair says; "" without one since the job was reopened
	Waits     string // what the job waits for; "" = it does not
	Proved    bool   // and neither reading nor repair since
	Signed    bool   // the same

	Name, Plate string // of the customer; "" when not known or erased
	sought      string
	isJob       bool
}

// lineOf draws the line of a stream from all its events.
func lineOf(rows []*stored) (*Line, error) {
	back, err := takenBack(rows)
	if err != nil {
		return nil, err
	}
	l := &Line{}
	for _, e := range rows {
		recorded, err := unstamp(e.recorded)
		if err != nil {
			return nil, fmt.Errorf("event %s: %w", e.id, err)
		}
		l.Stream, l.Seq, l.Place, l.Changed, l.Last = e.stream, int(e.seq), e.place, recorded, job.Kind(e.kind)
		if back[e.id] {
			continue
		}
		if err := l.drawOn(e); err != nil {
			return nil, fmt.Errorf("event %s (%s): %w", e.id, e.kind, err)
		}
	}
	return l, nil
}

// takenBack are the ids of the events that later ones take back. The same rule
// as in job.Fold: only the last event that stands, and neither the opening nor a
// signature. What asks for anything else takes back nothing here.
func takenBack(rows []*stored) (map[string]bool, error) {
	back := map[string]bool{}
	var standing []*stored
	for _, e := range rows {
		switch job.Kind(e.kind) {
		case job.Opened:
			continue
		case job.Withdrawn:
		default:
			standing = append(standing, e)
			continue
		}
		var b job.WithdrawnBody
		if err := json.Unmarshal(e.body, &b); err != nil {
			return nil, fmt.Errorf("event %s (%s): %w", e.id, e.kind, err)
		}
		n := len(standing) - 1
		if n >= 0 && standing[n].id == b.Event && job.Kind(standing[n].kind) != job.Signed {
			back[b.Event] = true
			standing = standing[:n]
		}
	}
	return back, nil
}

func (l *Line) drawOn(e *stored) error {
	switch job.Kind(e.kind) {
	case job.Opened:
		return l.open(e)
	case job.Took:
		l.goesOn()
		l.Readings++
	case job.Corrected:
		l.goesOn()
	case job.Reopened: // what was mended before is not what is to be proved
		l.goesOn()
		l.Cured = ""
	case job.Repaired:
		l.goesOn()
		l.Repairs++
		var b job.RepairBody
		err := json.Unmarshal(e.body, &b)
		l.Cured = plain(b.Cured)
		return err
	case job.Waits:
		var b job.WaitsBody
		err := json.Unmarshal(e.body, &b)
		l.Waits = plain(b.For)
		if b.For == "nothing" {
			l.Waits = ""
		}
		return err
	case job.Proved:
		l.Proved = true
	case job.Signed:
		l.Signed, l.Waits = true, ""
	}
	return nil
}

// goesOn: a job that is worked on waits no longer, and a proof or a signature
// covers what stood before it. The same rule as in job.Fold.
func (l *Line) goesOn() { l.Waits, l.Proved, l.Signed = "", false, false }

func (l *Line) open(e *stored) error {
	var b job.OpenedBody
	if err := json.Unmarshal(e.body, &b); err != nil {
		return err
	}
	if e.seq != 1 {
		return fmt.Errorf("stream %s has events already, so it cannot be opened", e.stream)
	}
	l.isJob = true
	l.Job, l.System, l.Note, l.Customer = plain(b.Job), plain(b.System), plain(b.Vehicle.Note), plain(b.Customer)
	l.sought = fold(l.Job) + "\n" + fold(l.Note)
	if b.Complaint != nil {
		l.Complaint = plain(b.Complaint.Kind)
	}
	l.Opened = b.Opened
	if l.Opened.IsZero() {
		at, err := unstamp(e.at)
		if err != nil {
			return err
		}
		l.Opened = at
	}
	if l.Opened.IsZero() {
		l.Opened = l.Changed
	}
	return nil
}

const lineColumns = "stream, place, seq, is_job, opened, changed, last, job, system, complaint, note, sought, customer, readings, repairs, cured, waits, proved, signed"

// save writes the line over the one before.
func (l *Line) save(ctx context.Context, tx *sql.Tx) error {
	_, err := tx.ExecContext(ctx, "INSERT INTO line ("+lineColumns+`) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19)
		ON CONFLICT (stream) DO UPDATE SET place = excluded.place, seq = excluded.seq, is_job = excluded.is_job, opened = excluded.opened,
			changed = excluded.changed, last = excluded.last, job = excluded.job, system = excluded.system, complaint = excluded.complaint,
			note = excluded.note, sought = excluded.sought, customer = excluded.customer, readings = excluded.readings, repairs = excluded.repairs, cured = excluded.cured,
			waits = excluded.waits, proved = excluded.proved, signed = excluded.signed`,
		l.Stream, l.Place, l.Seq, number01(l.isJob), stamp(l.Opened), stamp(l.Changed), string(l.Last), l.Job, l.System, l.Complaint, l.Note,
		l.sought, l.Customer, l.Readings, l.Repairs, l.Cured, l.Waits, number01(l.Proved), number01(l.Signed))
	return err
}

func number01(b bool) int {
	if b {
		return 1
	}
	return 0
}

// draw brings the line of a stream up to date, in the transaction of its events.
// It looks at all of them, since one may take back another.
func draw(ctx context.Context, tx *sql.Tx, stream string) error {
	var rows []*stored
	err := each(ctx, tx, func(e *stored) error { rows = append(rows, e); return nil }, "WHERE stream = $1 ORDER BY seq", stream)
	if err != nil {
		return err
	}
	l, err := lineOf(rows)
	if err != nil {
		return err
	}
	return l.save(ctx, tx)
}

// drawAll makes every line from the events alone.
func drawAll(ctx context.Context, tx *sql.Tx) (map[string]*Line, error) {
	lines := map[string]*Line{}
	var rows []*stored
	done := func() error {
		if len(rows) == 0 {
			return nil
		}
		l, err := lineOf(rows)
		lines[rows[0].stream], rows = l, nil
		return err
	}
	err := each(ctx, tx, func(e *stored) (err error) {
		if len(rows) > 0 && rows[0].stream != e.stream {
			err = done()
		}
		rows = append(rows, e)
		return err
	}, "ORDER BY stream, seq")
	return lines, errors.Join(err, done())
}

// freshLines makes the lines anew when they are not of today's rules.
func (s *Store) freshLines(ctx context.Context) error {
	var version int
	err := s.db.Read(ctx, func(tx *sql.Tx) error {
		return tx.QueryRowContext(ctx, "SELECT version FROM line_rules").Scan(&version)
	})
	if err != nil || version == lineRules {
		return err
	}
	return s.Redraw(ctx)
}

// Redraw makes the list anew from the events.
func (s *Store) Redraw(ctx context.Context) error {
	return s.db.Write(ctx, func(tx *sql.Tx) error {
		lines, err := drawAll(ctx, tx)
		if err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, "DELETE FROM line"); err != nil {
			return err
		}
		for _, l := range lines {
			if err := l.save(ctx, tx); err != nil {
				return err
			}
		}
		_, err = tx.ExecContext(ctx, "UPDATE line_rules SET version = $1", lineRules)
		return err
	})
}

// Query says which lines of the list are wanted.
type Query struct {
	Text   string // in the job's name, the note, the customer's name or plate; "" = all
	Open   bool   // only jobs that are not signed
	Before int64  // only lines with a Place before this one; 0 = from the top
	Limit  int    // at most so many; 0 = 50
}

// Jobs lists jobs, the one that was worked on last first. more says whether
// there are others: ask again with Before at the last line's Place.
func (s *Store) Jobs(ctx context.Context, q Query) (lines []Line, more bool, err error) {
	if q.Limit <= 0 {
		q.Limit = 50
	}
	where, args := q.where()
	err = s.db.Read(ctx, func(tx *sql.Tx) error {
		lines, err = list(ctx, tx, where, args...)
		return err
	})
	if len(lines) > q.Limit {
		lines, more = lines[:q.Limit], true
	}
	return lines, more, err
}

// Numbered lists the jobs of one number, the one that was worked on last first.
// Capitals make no difference.
func (s *Store) Numbered(ctx context.Context, number string) (lines []Line, err error) {
	number = fold(strings.TrimSpace(number))
	if number == "" {
		return nil, nil
	}
	err = s.db.Read(ctx, func(tx *sql.Tx) error {
		found, err := list(ctx, tx, `l.is_job = 1 AND l.sought LIKE $1 ESCAPE '\' ORDER BY l.place DESC`, escape.Replace(number)+"%")
		for _, l := range found {
			if fold(l.Job) == number {
				lines = append(lines, l)
			}
		}
		return err
	})
	return lines, err
}

// where is what stands after WHERE for a query, with its arguments. It asks for
// one line more than wanted, which tells whether there are others.
func (q Query) where() (string, []any) {
	where, args := "l.is_job = 1", []any{}
	arg := func(v any) string { args = append(args, v); return fmt.Sprintf("$%d", len(args)) }
	if q.Open {
		where += " AND l.signed = 0"
	}
	if q.Before > 0 {
		where += " AND l.place < " + arg(q.Before)
	}
	if text := strings.TrimSpace(q.Text); text != "" {
		like := func(column, text string) string {
			return column + " LIKE " + arg("%"+escape.Replace(text)+"%") + ` ESCAPE '\'`
		}
		some := like("l.sought", fold(text)) + " OR " + like("c.sought", fold(text))
		if plate := bare(text); plate != "" {
			some += " OR " + like("c.sought", plate)
		}
		where += " AND (" + some + ")"
	}
	where += " ORDER BY l.place DESC LIMIT " + arg(q.Limit+1)
	return where, args
}

// fold is a text as it is searched for.
func fold(s string) string { return strings.ToLower(plain(s)) }

// plain is a text as every database takes it: what is no text in it, or has no
// sign, becomes a mark for that.
func plain(s string) string {
	return strings.ReplaceAll(strings.ToValidUTF8(s, "\uFFFD"), "\x00", "\uFFFD")
}

// bare is a plate as it is searched for: without blanks and dashes, since nobody
// types them alike.
func bare(plate string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, plate)
}

var escape = strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`)

// Line returns the line of one stream, a job or not: ErrUnknown when it has no
// event.
func (s *Store) Line(ctx context.Context, stream string) (l Line, err error) {
	err = s.db.Read(ctx, func(tx *sql.Tx) error {
		p, err := one(ctx, tx, stream)
		if err == nil {
			l = *p
		}
		return err
	})
	return l, err
}

func one(ctx context.Context, tx *sql.Tx, stream string) (*Line, error) {
	if name(stream) != "" { // no stream has such a name
		return nil, fmt.Errorf("stream %q: %w", stream, ErrUnknown)
	}
	lines, err := list(ctx, tx, "l.stream = $1", stream)
	if err != nil {
		return nil, err
	}
	if len(lines) == 0 {
		return nil, fmt.Errorf("stream %s: %w", stream, ErrUnknown)
	}
	return &lines[0], nil
}

func list(ctx context.Context, tx *sql.Tx, where string, args ...any) ([]Line, error) {
	rows, err := tx.QueryContext(ctx, listQuery+where, args...)
	if err != nil {
		return nil, err
	}
	defer func() { _ = rows.Close() }() // rows.Err tells more
	var out []Line
	for rows.Next() {
		var l Line
		var opened, changed string
		var hash []byte
		err := rows.Scan(&l.Stream, &l.Place, &l.Seq, &l.isJob, &opened, &changed, &l.Last, &l.Job, &l.System, &l.Complaint, &l.Note,
			&l.sought, &l.Customer, &l.Readings, &l.Repairs, &l.Cured, &l.Waits, &l.Proved, &l.Signed, &hash, &l.Name, &l.Plate)
		if err != nil {
			return nil, err
		}
		if l.Opened, err = unstamp(opened); err != nil {
			return nil, err
		}
		if l.Changed, err = unstamp(changed); err != nil {
			return nil, err
		}
		copy(l.Hash[:], hash)
		out = append(out, l)
	}
	return out, rows.Err()
}

var listQuery = "SELECT l." + strings.ReplaceAll(lineColumns, ", ", ", l.") +
	", (SELECT hash FROM event WHERE place = l.place), coalesce(c.name, ''), coalesce(c.plate, '')" +
	" FROM line l LEFT JOIN customer c ON c.id = l.customer WHERE "
