package account

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"

	"github.com/go-webauthn/webauthn/protocol"
	"github.com/go-webauthn/webauthn/webauthn"
)

// AskSignIn begins a sign-in with a passkey: what a device is to be asked, as JSON.
// Nobody says a name: the device knows which accounts it has a key for, so that
// whoever asks learns of none. The problem is a *Wait when an address asks too
// often.
func (a *Accounts) AskSignIn(ctx context.Context, site Site, from From) ([]byte, error) {
	if err := a.pace.take(ctx, a.now(), []limit{newLimit("passkey", network(from.Address), askEvery, askBurst)}); err != nil {
		return nil, err
	}
	rules, err := site.rules()
	if err != nil {
		return nil, err
	}
	options, asked, err := rules.BeginDiscoverableLogin()
	if err != nil {
		return nil, err
	}
	return a.asked(ctx, "", options.Response, asked)
}

// SignInByPasskey begins a session as SignIn does, for whoever has the key that
// signed what was asked. The problem is ErrPasskey, ErrAsked or ErrCopied. A key
// cannot be guessed, so answers are not paced.
func (a *Accounts) SignInByPasskey(ctx context.Context, site Site, answer []byte) (token string, s Session, err error) {
	parsed, err := protocol.ParseCredentialRequestResponseBytes(answer)
	if err != nil {
		return "", s, errors.Join(ErrPasskey, err)
	}
	asked, err := a.answered(ctx, "", parsed.Response.CollectedClientData.Challenge, site)
	if err != nil {
		return "", s, err
	}
	var id, before string
	var h holder
	err = a.db.Read(ctx, func(tx *sql.Tx) error {
		err := tx.QueryRowContext(ctx, "SELECT id, record, account FROM passkey WHERE credential = $1", parsed.RawID).Scan(&id, &before, &h.ID)
		if errors.Is(err, sql.ErrNoRows) {
			return ErrPasskey
		}
		return err
	})
	if err != nil {
		return "", s, err
	}
	var key webauthn.Credential
	if err := json.Unmarshal([]byte(before), &key); err != nil {
		return "", s, err
	}
	h.keys = []webauthn.Credential{key}
	rules, err := site.rules()
	if err != nil {
		return "", s, err
	}
	after, err := rules.ValidateDiscoverableLogin(func([]byte, []byte) (webauthn.User, error) { return h, nil }, asked, parsed)
	switch {
	case err != nil:
		return "", s, errors.Join(ErrPasskey, err)
	case after.Authenticator.CloneWarning:
		return "", s, ErrCopied
	}
	return a.beginWith(ctx, h.ID, id, before, after)
}

// beginWith begins a session and writes down that a passkey was used, while it is
// there still and nobody has used it since it was read.
func (a *Accounts) beginWith(ctx context.Context, account, id, before string, after *webauthn.Credential) (token string, s Session, err error) {
	acc, stored, err := a.find(ctx, "id", account)
	if err != nil {
		return "", s, err
	}
	record, err := json.Marshal(after)
	if err != nil {
		return "", s, err
	}
	return a.begin(ctx, acc, stored.String(), stored.String(), func(tx *sql.Tx) error {
		is, err := tx.ExecContext(ctx, "UPDATE passkey SET record = $3, used = $4 WHERE id = $1 AND record = $2", id, before, string(record), a.now().Unix())
		return oneOf(is, err)
	})
}
