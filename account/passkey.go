package account

import (
	"context"
	"crypto/rand"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/go-webauthn/webauthn/protocol"
	"github.com/go-webauthn/webauthn/webauthn"
)

// Passkey is a key that a device keeps, with which somebody signs in without the
// password (W3C Web Authentication). Only its public half is here.
type Passkey struct {
	ID    string
	Name  string // what its holder calls it
	Site  string // the name under which pages must be open for it
	Added time.Time
	Used  time.Time // zero = never
}

// Site is where pages are open: a passkey is good for the name that it was made
// under and for no other.
type Site struct {
	Name   string // of the workshop, as the device shows it
	Host   string // without port
	Origin string // scheme, host and port
}

// MostPasskeys is how many an account may have: one for each device that somebody
// works with, and a spare (common practice).
const MostPasskeys = 10

// askedFor is how long a device may take to answer: somebody looks for a stick, or
// takes off gloves (common practice).
const askedFor = 5 * time.Minute

// What a caller can tell apart.
var (
	ErrPasskey = errors.New("this passkey opens no account here: it was removed, or made under another name of this workshop; sign in with name and password")
	ErrAsked   = errors.New("this was asked for more than 5 minutes ago, or answered already: start again")
	ErrCopied  = errors.New("the passkey counts fewer uses than it had, as a copy of it would: sign in with name and password, remove the passkey and add a new one")
	ErrMany    = fmt.Errorf("the account has %d passkeys already: remove one that is not used any more", MostPasskeys)
	ErrUnnamed = errors.New("write what you call the passkey, such as the device that keeps it, in at most 40 characters")
)

// rules are what is asked of a passkey and of the device that keeps it. It stands
// in for name and password, so the device has to know its holder, by a code or a
// finger, and to keep the account with the key. Nobody asks for the make
// of the device.
func (s Site) rules() (*webauthn.WebAuthn, error) {
	return webauthn.New(&webauthn.Config{
		RPID: s.Host, RPDisplayName: s.Name, RPOrigins: []string{s.Origin}, AttestationPreference: protocol.PreferNoAttestation,
		AuthenticatorSelection: protocol.AuthenticatorSelection{
			RequireResidentKey: protocol.ResidentKeyRequired(), ResidentKey: protocol.ResidentKeyRequirementRequired, UserVerification: protocol.VerificationRequired,
		},
	})
}

// holder is an account as the library wants it.
type holder struct {
	Account
	keys []webauthn.Credential
}

func (h holder) WebAuthnID() []byte                         { return []byte(h.ID) }
func (h holder) WebAuthnName() string                       { return h.Name }
func (h holder) WebAuthnDisplayName() string                { return h.Name }
func (h holder) WebAuthnCredentials() []webauthn.Credential { return h.keys }

// AskPasskey begins adding a passkey for whoever is signed in with a token: what a
// device is to be asked, as JSON. The password is asked for as at a sign-in, so
// that a device left open gives nobody a way in for good.
func (a *Accounts) AskPasskey(ctx context.Context, token, password string, site Site) ([]byte, error) {
	acc, err := a.proven(ctx, token, password)
	if err != nil {
		return nil, err
	}
	h := holder{Account: acc}
	if err := a.db.Read(ctx, func(tx *sql.Tx) (err error) { h.keys, err = keysOf(ctx, tx, acc.ID); return err }); err != nil {
		return nil, err
	}
	if len(h.keys) >= MostPasskeys {
		return nil, ErrMany
	}
	rules, err := site.rules()
	if err != nil {
		return nil, err
	}
	options, asked, err := rules.BeginRegistration(h, webauthn.WithExclusions(webauthn.Credentials(h.keys).CredentialDescriptors()))
	if err != nil {
		return nil, err
	}
	return a.asked(ctx, acc.ID, options.Response, asked)
}

// asked remembers what a device is asked, and returns it as JSON.
func (a *Accounts) asked(ctx context.Context, id string, options any, asked *webauthn.SessionData) ([]byte, error) {
	kept, err := json.Marshal(asked)
	if err != nil {
		return nil, err
	}
	err = a.db.Write(ctx, func(tx *sql.Tx) error {
		now := a.now()
		if _, err := tx.ExecContext(ctx, "DELETE FROM challenge WHERE expires <= $1", now.Unix()); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, "INSERT INTO challenge (hash, account, asked, expires) VALUES ($1, $2, $3, $4)",
			tokenHash(asked.Challenge), id, string(kept), now.Add(askedFor).Unix())
		return err
	})
	if err != nil {
		return nil, err
	}
	return json.Marshal(options)
}

// answered takes what a device was asked: it is good once, whatever the answer
// turns out to be, for whom it was asked and under the same name.
func (a *Accounts) answered(ctx context.Context, id, challenge string, site Site) (asked webauthn.SessionData, err error) {
	var kept string
	err = a.db.Write(ctx, func(tx *sql.Tx) error {
		hash := tokenHash(challenge)
		err := tx.QueryRowContext(ctx, "SELECT asked FROM challenge WHERE hash = $1 AND account = $2 AND expires > $3", hash, id, a.now().Unix()).Scan(&kept)
		if errors.Is(err, sql.ErrNoRows) {
			return ErrAsked
		}
		if err == nil {
			_, err = tx.ExecContext(ctx, "DELETE FROM challenge WHERE hash = $1", hash)
		}
		return err
	})
	if err == nil {
		err = json.Unmarshal([]byte(kept), &asked)
	}
	if err == nil && asked.RelyingPartyID != site.Host {
		err = ErrPasskey
	}
	return asked, err
}

// AddPasskey adds the passkey that a device has made. Answers that are none, or
// not to what was asked, are ErrPasskey or ErrAsked.
func (a *Accounts) AddPasskey(ctx context.Context, token string, site Site, name string, answer []byte) (Passkey, error) {
	s, err := a.Session(ctx, token)
	if err != nil {
		return Passkey{}, err
	}
	if name, err = keyName(name); err != nil {
		return Passkey{}, err
	}
	parsed, err := protocol.ParseCredentialCreationResponseBytes(answer)
	if err != nil {
		return Passkey{}, errors.Join(ErrPasskey, err)
	}
	asked, err := a.answered(ctx, s.Account.ID, parsed.Response.CollectedClientData.Challenge, site)
	if err != nil {
		return Passkey{}, err
	}
	rules, err := site.rules()
	if err != nil {
		return Passkey{}, err
	}
	made, err := rules.CreateCredential(holder{Account: s.Account}, asked, parsed)
	if err != nil {
		return Passkey{}, errors.Join(ErrPasskey, err)
	}
	made.Attestation = webauthn.CredentialAttestation{} // not asked for, not kept
	return a.keep(ctx, token, s.Account, site, name, made)
}

// keep writes a passkey down, while whoever adds it is signed in still.
func (a *Accounts) keep(ctx context.Context, token string, acc Account, site Site, name string, made *webauthn.Credential) (Passkey, error) {
	record, err := json.Marshal(made)
	if err != nil {
		return Passkey{}, err
	}
	p := Passkey{ID: "k-" + strings.ToLower(rand.Text()), Name: name, Site: site.Host, Added: a.now().Truncate(time.Second)}
	err = a.db.Write(ctx, func(tx *sql.Tx) error {
		var here, there, same int
		err := tx.QueryRowContext(ctx, `SELECT (SELECT count(*) FROM session WHERE hash = $1), (SELECT count(*) FROM passkey WHERE account = $2),
			(SELECT count(*) FROM passkey WHERE credential = $3)`, tokenHash(token), acc.ID, made.ID).Scan(&here, &there, &same)
		switch {
		case err != nil:
			return err
		case here == 0:
			return ErrSignedOut
		case there >= MostPasskeys:
			return ErrMany
		case same > 0:
			return ErrPasskey
		}
		_, err = tx.ExecContext(ctx, "INSERT INTO passkey (id, account, credential, site, name, record, created, used) VALUES ($1, $2, $3, $4, $5, $6, $7, 0)",
			p.ID, acc.ID, made.ID, p.Site, p.Name, string(record), p.Added.Unix())
		return errors.Join(err, a.did(ctx, tx, Change{By: acc.ID, What: DidPasskey, Account: acc.ID}))
	})
	if err != nil {
		return Passkey{}, err
	}
	return p, nil
}

// keyName is what a passkey may be called.
func keyName(name string) (string, error) {
	if name = tidy(name); !utf8.ValidString(name) || name == "" || utf8.RuneCountInString(name) > 40 || strings.ContainsFunc(name, unicode.IsControl) {
		return "", ErrUnnamed
	}
	return name, nil
}

// keysOf are the passkeys of an account as the library wants them.
func keysOf(ctx context.Context, tx *sql.Tx, id string) (out []webauthn.Credential, err error) {
	rows, err := tx.QueryContext(ctx, "SELECT record FROM passkey WHERE account = $1 ORDER BY id", id)
	if err != nil {
		return nil, err
	}
	defer func() { _ = rows.Close() }() // rows.Err tells more
	for rows.Next() {
		var record string
		var k webauthn.Credential
		err := rows.Scan(&record)
		if err == nil {
			err = json.Unmarshal([]byte(record), &k)
		}
		if err != nil {
			return nil, err
		}
		out = append(out, k)
	}
	return out, rows.Err()
}

// Passkeys lists the passkeys of an account, the oldest first.
func (a *Accounts) Passkeys(ctx context.Context, id string) (out []Passkey, err error) {
	at := a.now().Location()
	err = a.db.Read(ctx, func(tx *sql.Tx) error {
		rows, err := tx.QueryContext(ctx, "SELECT id, name, site, created, used FROM passkey WHERE account = $1 ORDER BY created, id", id)
		if err != nil {
			return err
		}
		defer func() { _ = rows.Close() }() // rows.Err tells more
		for rows.Next() {
			var p Passkey
			var added, used int64
			if err := rows.Scan(&p.ID, &p.Name, &p.Site, &added, &used); err != nil {
				return err
			}
			p.Added = time.Unix(added, 0).In(at)
			if used > 0 {
				p.Used = time.Unix(used, 0).In(at)
			}
			out = append(out, p)
		}
		return rows.Err()
	})
	return out, err
}

// NamePasskey gives a passkey of an account another name; ErrPasskey when the
// account has none of that id.
func (a *Accounts) NamePasskey(ctx context.Context, id, passkey, name string) error {
	name, err := keyName(name)
	if err != nil {
		return err
	}
	return a.db.Write(ctx, func(tx *sql.Tx) error {
		is, err := tx.ExecContext(ctx, "UPDATE passkey SET name = $3 WHERE account = $1 AND id = $2", id, passkey, name)
		return oneOf(is, err)
	})
}

// RemovePasskey takes a passkey off its own account; ErrPasskey when the account
// has none of that id.
func (a *Accounts) RemovePasskey(ctx context.Context, id, passkey string) error {
	return a.db.Write(ctx, func(tx *sql.Tx) error {
		is, err := tx.ExecContext(ctx, "DELETE FROM passkey WHERE account = $1 AND id = $2", id, passkey)
		if err := oneOf(is, err); err != nil {
			return err
		}
		return a.did(ctx, tx, Change{By: id, What: DidNoPasskey, Account: id})
	})
}

func oneOf(is sql.Result, err error) error {
	if err != nil {
		return err
	}
	n, err := is.RowsAffected()
	if err == nil && n != 1 {
		err = ErrPasskey
	}
	return err
}

// RemovePasskeys takes every passkey off somebody's account, as the owner does when
// a device is lost, and signs that person out on every device.
func (a *Accounts) RemovePasskeys(ctx context.Context, by, id string) error {
	return a.change(ctx, id, func(tx *sql.Tx, _ Account) error {
		is, err := tx.ExecContext(ctx, "DELETE FROM passkey WHERE account = $1", id)
		if err != nil {
			return err
		}
		if n, err := is.RowsAffected(); err != nil || n == 0 {
			return err
		}
		_, err = tx.ExecContext(ctx, "DELETE FROM session WHERE account = $1", id)
		return errors.Join(err, a.did(ctx, tx, Change{By: by, What: DidNoPasskey, Account: id}))
	})
}

// PasskeySites are the names under which the passkeys of those who may sign in work.
func (a *Accounts) PasskeySites(ctx context.Context) (out []string, err error) {
	err = a.db.Read(ctx, func(tx *sql.Tx) error {
		rows, err := tx.QueryContext(ctx, "SELECT DISTINCT site FROM passkey ORDER BY site")
		if err != nil {
			return err
		}
		defer func() { _ = rows.Close() }() // rows.Err tells more
		for rows.Next() {
			var site string
			if err := rows.Scan(&site); err != nil {
				return err
			}
			out = append(out, site)
		}
		return rows.Err()
	})
	return out, err
}
