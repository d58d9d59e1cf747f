package account

import (
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// InviteFor is how long an invitation is good (common practice: over a weekend).
const InviteFor = 3 * 24 * time.Hour

// What a caller can tell apart.
var (
	ErrNobody = errors.New("nobody here has that account: look at the list of people again")
	ErrOwner  = errors.New("the owner's account stays the owner's: it is neither withdrawn nor given another role; a new password is set with --owner-link")
)

// Change is something that was done to an account, as the audit has it. It holds
// no name: those change and may have to be forgotten.
type Change struct {
	By      string `json:"-"` // id of who did it; "" = the program, on this machine
	What    What   `json:"what"`
	Account string `json:"account"`
	Role    Role   `json:"role,omitempty"` // it has from now on
	Was     Role   `json:"was,omitempty"`  // and had before
}

// What was done.
type What string

// The kinds of change.
const (
	DidInvite    What = "invited"
	DidUninvite  What = "invitation withdrawn"
	DidLink      What = "new link"
	DidJoin      What = "joined"
	DidClaim     What = "password by link"
	DidRole      What = "role"
	DidWithdraw  What = "withdrawn"
	DidPassword  What = "password"
	DidSignedOut What = "signed out everywhere"
	DidPasskey   What = "passkey"
	DidNoPasskey What = "no passkey"
)

// Audit writes a change down within the transaction that makes it: both stand,
// or neither.
type Audit func(ctx context.Context, tx *sql.Tx, c Change) error

// AuditTo says where changes are written down. It is said before the accounts
// are used.
func (a *Accounts) AuditTo(audit Audit) { a.audit = audit }

func (a *Accounts) did(ctx context.Context, tx *sql.Tx, c Change) error {
	if a.audit == nil {
		return nil
	}
	return a.audit(ctx, tx, c)
}

// Person is an account as the list of people has it.
type Person struct {
	Account
	Joined   time.Time
	Seen     time.Time // used last; zero = not signed in
	Sessions int       // devices that are signed in
	Passkeys int
}

// People lists the accounts: the owner, the others by name, those who left.
func (a *Accounts) People(ctx context.Context) (out []Person, err error) {
	now := a.now()
	err = a.db.Read(ctx, func(tx *sql.Tx) error {
		rows, err := tx.QueryContext(ctx, `SELECT a.id, a.name, a.role, a.withdrawn, a.created, coalesce(max(s.seen), 0), count(s.hash),
			(SELECT count(*) FROM passkey k WHERE k.account = a.id) FROM account a
			LEFT JOIN session s ON s.account = a.id AND s.seen > $1 AND s.created > $2
			GROUP BY a.id, a.name, a.folded, a.role, a.withdrawn, a.created ORDER BY a.withdrawn, CASE a.role WHEN 'owner' THEN 0 ELSE 1 END, a.folded`, now.Add(-IdleAfter).Unix(), now.Add(-OldAfter).Unix())
		if err != nil {
			return err
		}
		defer func() { _ = rows.Close() }() // rows.Err tells more
		for rows.Next() {
			var p Person
			var joined, seen int64
			if err := rows.Scan(&p.ID, &p.Name, &p.Role, &p.Withdrawn, &joined, &seen, &p.Sessions, &p.Passkeys); err != nil {
				return err
			}
			p.Joined = time.Unix(joined, 0).In(now.Location())
			if seen > 0 {
				p.Seen = time.Unix(seen, 0).In(now.Location())
			}
			out = append(out, p)
		}
		return rows.Err()
	})
	return out, err
}

// Invitation is a link that somebody was given and has not used.
type Invitation struct {
	Account // as it will be, or is when the link only sets a new password
	Expires time.Time
	Again   bool // the account is there already
}

// Invitations lists the links that are good, but for the owner's.
func (a *Accounts) Invitations(ctx context.Context) (out []Invitation, err error) {
	now := a.now()
	err = a.db.Read(ctx, func(tx *sql.Tx) error {
		rows, err := tx.QueryContext(ctx, `SELECT l.account, coalesce(a.name, l.name), l.role, l.expires, a.id IS NOT NULL FROM link l
			LEFT JOIN account a ON a.id = l.account WHERE l.account <> '' AND l.expires > $1 ORDER BY l.expires, l.account`, now.Unix())
		if err != nil {
			return err
		}
		defer func() { _ = rows.Close() }() // rows.Err tells more
		for rows.Next() {
			var i Invitation
			var expires int64
			if err := rows.Scan(&i.ID, &i.Name, &i.Role, &expires, &i.Again); err != nil {
				return err
			}
			i.Expires = time.Unix(expires, 0).In(now.Location())
			out = append(out, i)
		}
		return rows.Err()
	})
	return out, err
}

// Invite makes a token that is good for Claim once, within InviteFor: it makes an
// account of a role. name is what the list calls the person until then.
func (a *Accounts) Invite(ctx context.Context, by, name string, role Role) (token string, expires time.Time, err error) {
	name = tidy(name)
	err = checkName(name)
	if !slices.Contains(Invited(), role) {
		err = errors.Join(err, fmt.Errorf("%q is no role that somebody is invited to: choose one of %v", role, Invited()))
	}
	if err != nil {
		return "", time.Time{}, err
	}
	id := "p-" + strings.ToLower(rand.Text())
	return a.giveLink(ctx, Change{By: by, What: DidInvite, Account: id, Role: role}, name)
}

// NewLink makes a token with which somebody who is here sets a new password, or
// who has left comes back. Links given before are good no more.
func (a *Accounts) NewLink(ctx context.Context, by, id string) (token string, expires time.Time, err error) {
	acc, _, err := a.find(ctx, "id", id)
	switch {
	case errors.Is(err, ErrWrong):
		return "", time.Time{}, ErrNobody
	case err != nil:
		return "", time.Time{}, err
	case acc.Role == Owner:
		return "", time.Time{}, ErrOwner
	}
	return a.giveLink(ctx, Change{By: by, What: DidLink, Account: id, Role: acc.Role}, "")
}

func (a *Accounts) giveLink(ctx context.Context, c Change, name string) (token string, expires time.Time, err error) {
	token, hash := newToken()
	expires = a.now().Add(InviteFor).Truncate(time.Second)
	err = a.db.Write(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, "DELETE FROM link WHERE account = $1 OR expires <= $2", c.Account, a.now().Unix()); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, "INSERT INTO link (hash, role, expires, account, name) VALUES ($1, $2, $3, $4, $5)", hash, string(c.Role), expires.Unix(), c.Account, name)
		return errors.Join(err, a.did(ctx, tx, c))
	})
	if err != nil {
		return "", time.Time{}, err
	}
	return token, expires, nil
}

// Uninvite makes the link of an account no good.
func (a *Accounts) Uninvite(ctx context.Context, by, id string) error {
	return a.db.Write(ctx, func(tx *sql.Tx) error {
		is, err := tx.ExecContext(ctx, "DELETE FROM link WHERE account = $1 AND account <> ''", id)
		if err != nil {
			return err
		}
		if n, err := is.RowsAffected(); err != nil || n == 0 {
			return err
		}
		return a.did(ctx, tx, Change{By: by, What: DidUninvite, Account: id})
	})
}

// SetRole gives somebody another role, from the next page on.
func (a *Accounts) SetRole(ctx context.Context, by, id string, role Role) error {
	if !slices.Contains(Invited(), role) {
		return fmt.Errorf("%q is no role that somebody is given: choose one of %v", role, Invited())
	}
	return a.change(ctx, id, func(tx *sql.Tx, acc Account) error {
		if acc.Role == role {
			return nil
		}
		_, err := tx.ExecContext(ctx, "UPDATE account SET role = $2 WHERE id = $1", id, string(role))
		if err == nil {
			_, err = tx.ExecContext(ctx, "UPDATE link SET role = $2 WHERE account = $1", id, string(role))
		}
		return errors.Join(err, a.did(ctx, tx, Change{By: by, What: DidRole, Account: id, Role: role, Was: acc.Role}))
	})
}

// Withdraw lets somebody sign in no more: sessions, links and passkeys end with it. The
// account's row stays, because the journal names its id.
func (a *Accounts) Withdraw(ctx context.Context, by, id string) error {
	return a.change(ctx, id, func(tx *sql.Tx, acc Account) error {
		for _, s := range []string{"UPDATE account SET withdrawn = 1 WHERE id = $1", "DELETE FROM session WHERE account = $1", "DELETE FROM link WHERE account = $1", "DELETE FROM passkey WHERE account = $1"} {
			if _, err := tx.ExecContext(ctx, s, id); err != nil {
				return err
			}
		}
		if acc.Withdrawn {
			return nil
		}
		return a.did(ctx, tx, Change{By: by, What: DidWithdraw, Account: id, Was: acc.Role})
	})
}

// change does something to an account that is there and not the owner's.
func (a *Accounts) change(ctx context.Context, id string, do func(*sql.Tx, Account) error) error {
	return a.db.Write(ctx, func(tx *sql.Tx) error {
		acc := Account{ID: id}
		err := tx.QueryRowContext(ctx, "SELECT name, role, withdrawn FROM account WHERE id = $1", id).Scan(&acc.Name, &acc.Role, &acc.Withdrawn)
		switch {
		case errors.Is(err, sql.ErrNoRows):
			return ErrNobody
		case err != nil:
			return err
		case acc.Role == Owner:
			return ErrOwner
		}
		return do(tx, acc)
	})
}

// Sessions counts the devices that are signed in to an account.
func (a *Accounts) Sessions(ctx context.Context, id string) (n int, err error) {
	now := a.now()
	err = a.db.Read(ctx, func(tx *sql.Tx) error {
		return tx.QueryRowContext(ctx, "SELECT count(*) FROM session WHERE account = $1 AND seen > $2 AND created > $3", id, now.Add(-IdleAfter).Unix(), now.Add(-OldAfter).Unix()).Scan(&n)
	})
	return n, err
}
