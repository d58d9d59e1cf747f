package account

import (
	"context"
	"crypto/subtle"
	"database/sql"
	"errors"
	"time"
)

// Session is somebody who is signed in.
type Session struct {
	Account Account
	Created time.Time
	Expires time.Time // whatever its use
	Device  string    // what the device shows at its next sign-in; given when a session begins
}

// From is where a sign-in comes from.
type From struct {
	Address string // in the network
	Device  string // Session.Device of an earlier sign-in there; "" = none
}

// seenEvery is how often the use of a session is written down: not at every
// page, since each write is synced to the disk.
const seenEvery = time.Minute

// SignIn begins a session and returns its token, which is stored nowhere. The
// problem is ErrWrong, or a *Wait when there were too many tries (see pace.go).
func (a *Accounts) SignIn(ctx context.Context, name, password string, from From) (token string, s Session, err error) {
	acc, stored, err := a.find(ctx, "folded", fold(name))
	known := err == nil && !acc.Withdrawn
	if errors.Is(err, ErrWrong) || acc.Withdrawn {
		stored, err = a.nobody(), nil
	}
	if err != nil {
		return "", s, err
	}
	device := ""
	if known {
		device = provenDevice(from.Device, acc, stored.String())
	}
	if err := a.pace.allow(ctx, a.now(), fold(name), from.Address, device); err != nil {
		return "", s, err
	}
	fits, err := a.fits(ctx, password, stored)
	if err != nil {
		return "", s, err
	}
	if !known || !fits {
		return "", s, ErrWrong
	}
	if err := a.pace.forget(ctx, a.now(), fold(name), from.Address, device); err != nil {
		return "", s, err
	}
	before, after := stored.String(), stored.String()
	if !stored.current(a.cost) { // stored by an older program
		if after, err = a.hash(ctx, password); err != nil {
			return "", s, err
		}
	}
	return a.begin(ctx, acc, before, after, nil)
}

// find looks an account up by id or folded name.
func (a *Accounts) find(ctx context.Context, column, value string) (acc Account, s secret, err error) {
	var stored string
	err = a.db.Read(ctx, func(tx *sql.Tx) error {
		return tx.QueryRowContext(ctx, "SELECT id, name, role, withdrawn, password FROM account WHERE "+column+" = $1", value).Scan(&acc.ID, &acc.Name, &acc.Role, &acc.Withdrawn, &stored)
	})
	if errors.Is(err, sql.ErrNoRows) {
		return acc, s, ErrWrong
	}
	if err != nil {
		return acc, s, err
	}
	s, err = parseSecret(stored)
	return acc, s, err
}

// Name is how an account is called now: ErrWrong when there is none of that id.
func (a *Accounts) Name(ctx context.Context, id string) (string, error) {
	acc, _, err := a.find(ctx, "id", id)
	return acc.Name, err
}

// Account is an account as it is now: ErrWrong when there is none of that id.
func (a *Accounts) Account(ctx context.Context, id string) (Account, error) {
	acc, _, err := a.find(ctx, "id", id)
	return acc, err
}

// begin writes a new session, and clears those that have run out. The password
// must still be the one that was there: it may have been changed meanwhile. also,
// where it is given, is done in the same transaction.
func (a *Accounts) begin(ctx context.Context, acc Account, before, after string, also func(*sql.Tx) error) (token string, s Session, err error) {
	now := a.now().Truncate(time.Second)
	token, hash := newToken()
	err = a.db.Write(ctx, func(tx *sql.Tx) error {
		is, err := tx.ExecContext(ctx, "UPDATE account SET password = $3 WHERE id = $1 AND password = $2 AND withdrawn = 0", acc.ID, before, after)
		if err != nil {
			return err
		}
		if n, err := is.RowsAffected(); err != nil || n != 1 {
			return errors.Join(err, ErrWrong)
		}
		if also != nil {
			if err := also(tx); err != nil {
				return err
			}
		}
		if _, err := tx.ExecContext(ctx, "DELETE FROM session WHERE seen <= $1 OR created <= $2", now.Add(-IdleAfter).Unix(), now.Add(-OldAfter).Unix()); err != nil {
			return err
		}
		_, err = tx.ExecContext(ctx, "INSERT INTO session (hash, account, created, seen) VALUES ($1, $2, $3, $3)", hash, acc.ID, now.Unix())
		return err
	})
	if err != nil {
		return "", Session{}, err
	}
	return token, Session{Account: acc, Created: now, Expires: now.Add(OldAfter), Device: newProof(acc, after)}, nil
}

// Session returns who is signed in with a token, and counts as a use: ErrSignedOut
// when nobody is.
func (a *Accounts) Session(ctx context.Context, token string) (Session, error) {
	hash, now := tokenHash(token), a.now()
	var s Session
	var stored []byte
	var created, seen int64
	err := a.db.Read(ctx, func(tx *sql.Tx) error {
		return tx.QueryRowContext(ctx, `SELECT s.hash, s.created, s.seen, a.id, a.name, a.role FROM session s JOIN account a ON a.id = s.account
			WHERE s.hash = $1 AND a.withdrawn = 0`, hash).Scan(&stored, &created, &seen, &s.Account.ID, &s.Account.Name, &s.Account.Role)
	})
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return Session{}, ErrSignedOut
	case err != nil:
		return Session{}, err
	case subtle.ConstantTimeCompare(stored, hash) != 1:
		return Session{}, ErrSignedOut
	}
	s.Created = time.Unix(created, 0).In(now.Location())
	s.Expires = s.Created.Add(OldAfter)
	used := time.Unix(seen, 0)
	if !now.Before(s.Expires) || !now.Before(used.Add(IdleAfter)) {
		return Session{}, errors.Join(ErrSignedOut, a.SignOut(ctx, token))
	}
	if now.Sub(used) < seenEvery {
		return s, nil
	}
	return s, a.db.Write(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "UPDATE session SET seen = $2 WHERE hash = $1 AND seen < $2", hash, now.Unix())
		return err
	})
}

// Good says whether somebody is signed in with a token. It counts as no use, so
// that a page that is left open does not keep anybody signed in.
func (a *Accounts) Good(ctx context.Context, token string) (good bool, err error) {
	now := a.now()
	err = a.db.Read(ctx, func(tx *sql.Tx) error {
		return tx.QueryRowContext(ctx, `SELECT count(*) > 0 FROM session s JOIN account a ON a.id = s.account
			WHERE s.hash = $1 AND s.seen > $2 AND s.created > $3 AND a.withdrawn = 0`, tokenHash(token), now.Add(-IdleAfter).Unix(), now.Add(-OldAfter).Unix()).Scan(&good)
	})
	return good, err
}

// SignOut ends a session. Ending one that is over is no problem.
func (a *Accounts) SignOut(ctx context.Context, token string) error {
	return a.db.Write(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "DELETE FROM session WHERE hash = $1", tokenHash(token))
		return err
	})
}

// SignOutEverywhere ends every session of an account.
func (a *Accounts) SignOutEverywhere(ctx context.Context, id string) error {
	return a.db.Write(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "DELETE FROM session WHERE account = $1", id)
		return errors.Join(err, a.did(ctx, tx, Change{By: id, What: DidSignedOut, Account: id}))
	})
}

// proven is whoever is signed in with a token, who gives the password once more, as
// at a sign-in: ErrWrong when it is not theirs.
func (a *Accounts) proven(ctx context.Context, token, password string) (Account, error) {
	s, err := a.Session(ctx, token)
	if err != nil {
		return Account{}, err
	}
	session := string(tokenHash(token)) // has a pace of its own, as a device has
	if err := a.pace.allow(ctx, a.now(), "", "", session); err != nil {
		return Account{}, err
	}
	_, stored, err := a.find(ctx, "id", s.Account.ID)
	if err != nil {
		return Account{}, err
	}
	fits, err := a.fits(ctx, password, stored)
	if err != nil {
		return Account{}, err
	}
	if !fits {
		return s.Account, ErrWrong
	}
	return s.Account, a.pace.forget(ctx, a.now(), "", "", session)
}

// SetPassword changes the password of whoever is signed in with the token, and
// ends every other session. The old password is asked for as at a sign-in.
func (a *Accounts) SetPassword(ctx context.Context, token, before, password string) error {
	acc, err := a.proven(ctx, token, before)
	if err != nil && !errors.Is(err, ErrWrong) {
		return err
	}
	if err = errors.Join(err, checkPassword(acc.Name, password)); err != nil {
		return err
	}
	again, err := a.hash(ctx, password)
	if err != nil {
		return err
	}
	return a.db.Write(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, "UPDATE account SET password = $2, changed = $3 WHERE id = $1", acc.ID, again, a.now().Unix()); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, "DELETE FROM session WHERE account = $1 AND hash <> $2", acc.ID, tokenHash(token))
		return errors.Join(err, a.did(ctx, tx, Change{By: acc.ID, What: DidPassword, Account: acc.ID}))
	})
}
