package account

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"database/sql"
	"encoding/base64"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"

	"chargewright/store"
)

// Account is somebody who may sign in.
type Account struct {
	ID   string // stands in events as who did it; never changes
	Name string
	Role Role

	Withdrawn bool // signs in no more
}

// How long things last (common practice: a working day, two weeks, an hour).
const (
	IdleAfter = 12 * time.Hour      // a session that nobody uses
	OldAfter  = 14 * 24 * time.Hour // a session, whatever its use
	LinkFor   = time.Hour           // a one-time link
)

// What a caller can tell apart.
var (
	ErrLink      = errors.New("this link is not good any more: it was used, replaced by a newer one, or has run out; have a new one made")
	ErrWrong     = errors.New("name and password do not belong together")
	ErrSignedOut = errors.New("nobody is signed in with this session: sign in again")
)

// Accounts are the accounts of a database.
type Accounts struct {
	db      *store.DB
	now     func() time.Time
	cost    cost          // of a password's hash
	hashing chan struct{} // holds one for each password being hashed
	pace    pace
	audit   Audit // nil = changes are not written down
}

// New opens the accounts of a database that is open for writing.
func New(db *store.DB, now func() time.Time, options ...Option) *Accounts {
	a := &Accounts{db: db, now: now, cost: full, hashing: make(chan struct{}, hashers), pace: pace{db}}
	for _, o := range options {
		o(a)
	}
	return a
}

// Option is what may differ in how accounts are kept.
type Option func(*Accounts)

// CheapHashes makes a password cost next to nothing to hash. It is for tests: a rule
// of the house lets nothing that ships ask for it.
func CheapHashes(a *Accounts) { a.cost = cost{64, 1, 1} }

// newToken makes a secret that cannot be guessed, and the hash that is stored
// in its place. A stolen table of hashes opens nothing.
func newToken() (token string, hash []byte) {
	var b [32]byte
	_, _ = rand.Read(b[:]) // crypto/rand never fails: it ends the program instead
	token = base64.RawURLEncoding.EncodeToString(b[:])
	return token, tokenHash(token)
}

func tokenHash(token string) []byte {
	sum := sha256.Sum256([]byte(token))
	return sum[:]
}

// OwnerLink makes a token that is good for Claim once, within LinkFor. Links
// made before are good no more. Whoever can run the program on the data
// directory may have one: it is the way in when a password is lost, too.
func (a *Accounts) OwnerLink(ctx context.Context) (token string, expires time.Time, err error) {
	token, hash := newToken()
	expires = a.now().Add(LinkFor).Truncate(time.Second)
	err = a.db.Write(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, "DELETE FROM link WHERE role = $1", string(Owner)); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, "INSERT INTO link (hash, role, expires) VALUES ($1, $2, $3)", hash, string(Owner), expires.Unix())
		return err
	})
	if err != nil {
		return "", time.Time{}, err
	}
	return token, expires, nil
}

// HasOwner says whether the owner has set a password.
func (a *Accounts) HasOwner(ctx context.Context) (has bool, err error) {
	err = a.db.Read(ctx, func(tx *sql.Tx) error {
		return tx.QueryRowContext(ctx, "SELECT count(*) > 0 FROM account WHERE role = $1", string(Owner)).Scan(&has)
	})
	return has, err
}

// CheckLink returns ErrLink when a token is not good for Claim. It uses nothing
// up.
func (a *Accounts) CheckLink(ctx context.Context, token string) error {
	_, err := a.WhoseLink(ctx, token)
	return err
}

// WhoseLink says for which account a token is good for Claim; ErrLink when it is
// for none. The owner's has no id, and a new account no name but what the owner
// calls it by.
func (a *Accounts) WhoseLink(ctx context.Context, token string) (acc Account, err error) {
	err = a.db.Read(ctx, func(tx *sql.Tx) error {
		acc, err = a.link(ctx, tx, tokenHash(token))
		return err
	})
	return acc, err
}

// link is the account that a link is for, with the name that it has or is called
// by; the owner's has no id.
func (a *Accounts) link(ctx context.Context, tx *sql.Tx, hash []byte) (acc Account, err error) {
	var stored []byte
	var expires int64
	err = tx.QueryRowContext(ctx, `SELECT l.hash, l.role, l.expires, l.account, coalesce(a.name, l.name) FROM link l
		LEFT JOIN account a ON a.id = l.account WHERE l.hash = $1`, hash).Scan(&stored, &acc.Role, &expires, &acc.ID, &acc.Name)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return Account{}, ErrLink
	case err != nil:
		return Account{}, err
	case subtle.ConstantTimeCompare(stored, hash) != 1 || a.now().Unix() >= expires:
		return Account{}, ErrLink
	}
	return acc, nil
}

// Claim uses up a link: it sets name and password of the account that it is for,
// which keeps the id there was, and ends every session and passkey of it: whatever
// opened it before, which somebody else may hold, opens it no more. Names and
// passwords that will not do leave the link good.
func (a *Accounts) Claim(ctx context.Context, token, name, password string) (Account, error) {
	if err := a.CheckLink(ctx, token); err != nil { // before the work of hashing
		return Account{}, err
	}
	name = tidy(name)
	if err := errors.Join(checkName(name), checkPassword(name, password)); err != nil {
		return Account{}, err
	}
	stored, err := a.hash(ctx, password)
	if err != nil {
		return Account{}, err
	}
	var acc Account
	err = a.db.Write(ctx, func(tx *sql.Tx) error {
		hash := tokenHash(token)
		if acc, err = a.link(ctx, tx, hash); err != nil { // somebody may have been faster
			return err
		}
		acc.Name = name
		if _, err := tx.ExecContext(ctx, "DELETE FROM link WHERE hash = $1", hash); err != nil {
			return err
		}
		if acc, err = a.write(ctx, tx, acc, stored); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, "DELETE FROM session WHERE account = $1", acc.ID)
		if err == nil {
			_, err = tx.ExecContext(ctx, "DELETE FROM passkey WHERE account = $1", acc.ID)
		}
		return err
	})
	if err != nil {
		return Account{}, err
	}
	return acc, nil
}

// write makes the account of a link, or changes it. The owner's has no id on its
// link: there is one at most.
func (a *Accounts) write(ctx context.Context, tx *sql.Tx, acc Account, stored string) (Account, error) {
	now := a.now().Unix()
	where, key := "id = $1", acc.ID
	if key == "" {
		where, key = "role = $1", string(Owner)
	}
	var role Role
	err := tx.QueryRowContext(ctx, "SELECT id, role FROM account WHERE "+where, key).Scan(&acc.ID, &role)
	known := err == nil
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return acc, err
	}
	if acc.ID == "" {
		acc.ID = "p-" + strings.ToLower(rand.Text())
	}
	var same int
	if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM account WHERE folded = $1 AND id <> $2", fold(acc.Name), acc.ID).Scan(&same); err != nil {
		return acc, err
	}
	if same > 0 {
		return acc, fmt.Errorf("somebody else here is called %s: write another name, such as with the surname", acc.Name)
	}
	what := DidJoin
	if known {
		what, acc.Role = DidClaim, role // it may have been given another one meanwhile
		_, err = tx.ExecContext(ctx, "UPDATE account SET name = $2, folded = $3, password = $4, changed = $5, withdrawn = 0 WHERE id = $1",
			acc.ID, acc.Name, fold(acc.Name), stored, now)
	} else {
		_, err = tx.ExecContext(ctx, "INSERT INTO account (id, name, folded, role, password, created, changed) VALUES ($1, $2, $3, $4, $5, $6, $6)",
			acc.ID, acc.Name, fold(acc.Name), string(acc.Role), stored, now)
	}
	return acc, errors.Join(err, a.did(ctx, tx, Change{By: acc.ID, What: what, Account: acc.ID, Role: acc.Role}))
}

// EndAll ends every session and passkey and makes every link no good: for a workshop
// that was restored from a copy, in which some may stand that have ended since. A
// passkey of a lost device would open its account again.
func (a *Accounts) EndAll(ctx context.Context) error {
	return a.db.Write(ctx, func(tx *sql.Tx) error {
		for _, t := range []string{"session", "link", "passkey", "challenge"} {
			if _, err := tx.ExecContext(ctx, "DELETE FROM "+t); err != nil {
				return err
			}
		}
		return nil
	})
}

// tidy is a name as it is kept.
func tidy(name string) string { return norm.NFC.String(strings.Join(strings.Fields(name), " ")) }

// fold is a name as it is signed in with. What is no text in it, which nobody's
// name has, becomes a mark for that: not every database can look for it.
func fold(name string) string {
	return strings.ToLower(tidy(strings.ReplaceAll(strings.ToValidUTF8(name, "\uFFFD"), "\x00", "\uFFFD")))
}

func checkName(name string) error {
	switch n := utf8.RuneCountInString(name); {
	case !utf8.ValidString(name) || strings.ContainsFunc(name, unicode.IsControl):
		return errors.New("the name holds what is no text: write letters")
	case n < 1:
		return errors.New("there is no name: write one")
	case n > 60:
		return fmt.Errorf("the name has %d characters: write at most 60", n)
	}
	return nil
}

// A password has at least 12 characters: length is what counts, so there are no
// rules on signs and digits (NIST SP 800-63B, 5.1.1: memory).
const (
	shortest = 12
	longest  = 200
)

// checkPassword reports everything that is wrong with a password.
func checkPassword(name, password string) error {
	var all []error
	if !utf8.ValidString(password) {
		return &Weak{errors.New("the password holds what is no text: write letters, digits, signs")}
	}
	n := utf8.RuneCountInString(password)
	if n < shortest {
		all = append(all, fmt.Errorf("the password has %d characters: write at least %d; a few words do", n, shortest))
	}
	if n > longest {
		all = append(all, fmt.Errorf("the password has %d characters: write at most %d", n, longest))
	}
	if f := fold(name); f != "" && strings.Contains(fold(password), f) && n < shortest+utf8.RuneCountInString(f) {
		all = append(all, errors.New("most of the password is the name: write something else"))
	}
	if different(password) < 5 {
		all = append(all, errors.New("the password repeats a few characters: write at least 5 different ones"))
	}
	if len(all) == 0 {
		return nil
	}
	return &Weak{errors.Join(all...)}
}

// Weak is why a password will not do: everything at once, a line each.
type Weak struct{ error }

func different(s string) int {
	seen := map[rune]bool{}
	for _, r := range s {
		seen[r] = true
	}
	return len(seen)
}
