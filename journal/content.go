package journal

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"

	"chargewright/job"
)

// MaxContent is the most bytes that are kept under one hash.
const MaxContent = 64 << 20

// ErrUnknown is the answer to a question for something that is not here.
var ErrUnknown = errors.New("the journal does not know it")

// Keep stores bytes under their SHA-256, for good. Bytes that do not have that
// hash are refused; the same bytes again are kept once.
func (s *Store) Keep(ctx context.Context, sum Sum, content []byte) error {
	if is := Sum(sha256.Sum256(content)); is != sum {
		return fmt.Errorf("the bytes given as %v have the hash %v: they were changed, or another file was meant", sum, is)
	}
	if len(content) == 0 || len(content) > MaxContent {
		return fmt.Errorf("content of %d bytes: 1 to %d are kept", len(content), MaxContent)
	}
	return s.db.Write(ctx, func(tx *sql.Tx) error { return keep(ctx, tx, sum, content) })
}

func keep(ctx context.Context, tx *sql.Tx, sum Sum, content []byte) error {
	_, err := tx.ExecContext(ctx, "INSERT INTO content (sha256, bytes) VALUES ($1, $2) ON CONFLICT (sha256) DO NOTHING", sum[:], content)
	return err
}

// Content returns the bytes that were kept under a hash: ErrUnknown when there
// are none, a *Break when they are not the ones that were kept.
func (s *Store) Content(ctx context.Context, sum Sum) (content []byte, err error) {
	err = s.db.Read(ctx, func(tx *sql.Tx) error {
		content, err = kept(ctx, tx, sum)
		return err
	})
	return content, err
}

func kept(ctx context.Context, tx *sql.Tx, sum Sum) ([]byte, error) {
	var content []byte
	err := tx.QueryRowContext(ctx, "SELECT bytes FROM content WHERE sha256 = $1", sum[:]).Scan(&content)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return nil, fmt.Errorf("content %v: %w", sum, ErrUnknown)
	case err != nil:
		return nil, err
	case Sum(sha256.Sum256(content)) != sum:
		return nil, &Break{What: fmt.Sprintf("content %v was changed after it was kept", sum)}
	}
	return content, nil
}

// pin is the content that an event cannot be understood without: what its body,
// a JSON object, names in system_sha256 or sha256. An opening must name some,
// other events need not; hashes of what is not kept here have another field.
func pin(kind job.Kind, body []byte) (sum Sum, pins bool, err error) {
	var b struct {
		System  *string `json:"system_sha256"`
		Content *string `json:"sha256"`
	}
	if err := json.Unmarshal(body, &b); err != nil && kind == job.Opened {
		return sum, true, fmt.Errorf("the opening cannot be read: %w", err)
	} else if err != nil {
		return sum, false, nil //nolint:nilerr // other bodies may be any bytes
	}
	named := b.System
	if named == nil {
		named = b.Content
	}
	if named == nil && kind == job.Opened {
		return sum, true, errors.New("the opening does not say which system file it was made with: write its hash as system_sha256")
	}
	if named == nil {
		return sum, false, nil
	}
	sum, err = ParseSum(*named)
	return sum, true, err
}

// pinned refuses an event whose content is not kept.
func pinned(ctx context.Context, tx *sql.Tx, e *stored) error {
	sum, pins, err := pin(job.Kind(e.kind), e.body)
	if err != nil {
		return fmt.Errorf("event %s: %w", e.id, err)
	}
	if !pins {
		return nil
	}
	if _, err = kept(ctx, tx, sum); errors.Is(err, ErrUnknown) {
		return fmt.Errorf("event %s pins content %v, which is not kept: keep its bytes first", e.id, sum)
	}
	return err
}
