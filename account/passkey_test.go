package account

import (
	"context"
	"database/sql"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/go-webauthn/webauthn/webauthn"

	"chargewright/internal/softkey"
)

var shopSite = Site{Name: "Test shop", Host: "shop.example", Origin: "https://shop.example:8412"}

// addKey adds a passkey for whoever is signed in.
func addKey(t testing.TB, a *Accounts, token string, d *softkey.Device, name string) Passkey {
	t.Helper()
	options, err := a.AskPasskey(context.Background(), token, good, shopSite)
	if err != nil {
		t.Fatal(err)
	}
	p, err := a.AddPasskey(context.Background(), token, shopSite, name, d.Make(t, options, shopSite.Origin))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// ask is what a device is asked at a sign-in.
func ask(t testing.TB, a *Accounts) []byte {
	t.Helper()
	options, err := a.AskSignIn(context.Background(), shopSite, From{Address: home})
	if err != nil {
		t.Fatal(err)
	}
	return options
}

func byKey(t testing.TB, a *Accounts, d *softkey.Device) (string, Session, error) {
	t.Helper()
	return a.SignInByPasskey(context.Background(), shopSite, d.Sign(t, ask(t, a), shopSite.Origin))
}

// TestPasskeys: one is added by whoever knows the password, signs in, is called
// another name, and opens nothing once it is removed.
func TestPasskeys(t *testing.T) {
	a, c, mara := owned(t)
	ctx := t.Context()
	var did []What
	a.AuditTo(func(_ context.Context, _ *sql.Tx, c Change) error { did = append(did, c.What); return nil })
	in := signIn(t, a)
	_, err := a.AskPasskey(ctx, in, "not the password", shopSite)
	is(t, "adding one without the password", err, ErrWrong)
	_, err = a.AskPasskey(ctx, "nobody", good, shopSite)
	is(t, "adding one without a session", err, ErrSignedOut)
	d := &softkey.Device{}
	p := addKey(t, a, in, d, "  Tablet  in the bay ")
	if p.Name != "Tablet in the bay" || p.Site != "shop.example" || !p.Added.Equal(c.t) || !p.Used.IsZero() {
		t.Errorf("%+v", p)
	}
	c.minutes(90)
	token, s, err := byKey(t, a, d)
	if err != nil || s.Account != mara || s.Device == "" {
		t.Fatalf("%+v (%v)", s, err)
	}
	if got, err := a.Session(ctx, token); err != nil || got.Account != mara {
		t.Errorf("%+v (%v)", got, err)
	}
	is(t, "another name", a.NamePasskey(ctx, mara.ID, p.ID, "Phone"), nil)
	is(t, "no name", a.NamePasskey(ctx, mara.ID, p.ID, " "), ErrUnnamed)
	is(t, "a long one", a.NamePasskey(ctx, mara.ID, p.ID, strings.Repeat("n", 41)), ErrUnnamed)
	is(t, "somebody else's", a.NamePasskey(ctx, "p-other", p.ID, "Mine"), ErrPasskey)
	is(t, "removing somebody else's", a.RemovePasskey(ctx, "p-other", p.ID), ErrPasskey)
	list, err := a.Passkeys(ctx, mara.ID)
	if err != nil || len(list) != 1 || list[0].Name != "Phone" || !list[0].Used.Equal(c.t) {
		t.Errorf("%+v (%v)", list, err)
	}
	people, err := a.People(ctx)
	if err != nil || len(people) != 1 || people[0].Passkeys != 1 || people[0].Sessions != 2 {
		t.Errorf("%+v (%v)", people, err)
	}
	is(t, "removing", a.RemovePasskey(ctx, mara.ID, p.ID), nil)
	is(t, "removing once more", a.RemovePasskey(ctx, mara.ID, p.ID), ErrPasskey)
	_, _, err = byKey(t, a, d)
	is(t, "signing in with one that was removed", err, ErrPasskey)
	signIn(t, a) // the password is good as before
	if len(did) != 2 || did[0] != DidPasskey || did[1] != DidNoPasskey {
		t.Errorf("written down: %v", did)
	}
}

// TestPasskeyAnswers: what was asked is answered once, in time, by whom and where it
// was asked, by the device that has the key and knows its holder.
func TestPasskeyAnswers(t *testing.T) {
	a, c, _ := owned(t)
	ctx := t.Context()
	in, elsewhere := signIn(t, a), Site{Name: "Test shop", Host: "other.example", Origin: "https://other.example"}
	options := func() []byte {
		t.Helper()
		o, err := a.AskPasskey(ctx, in, good, shopSite)
		if err != nil {
			t.Fatal(err)
		}
		return o
	}
	add := func(what string, site Site, answer []byte, want error) {
		t.Helper()
		_, err := a.AddPasskey(ctx, in, site, "Tablet", answer)
		is(t, "adding: "+what, err, want)
	}
	d := &softkey.Device{}
	first := d.Make(t, options(), shopSite.Origin)
	_, err := a.AddPasskey(ctx, in, shopSite, "", first)
	is(t, "adding without a name", err, ErrUnnamed) // nothing is used up by that
	add("as asked", shopSite, first, nil)
	add("the same again", shopSite, first, ErrAsked)
	add("no answer", shopSite, []byte("{}"), ErrPasskey)
	add("no answer at all", shopSite, nil, ErrPasskey)
	add("under another name", elsewhere, (&softkey.Device{}).Make(t, options(), shopSite.Origin), ErrPasskey)
	add("from another page", shopSite, (&softkey.Device{}).Make(t, options(), "https://shop.example.evil.example"), ErrPasskey)
	add("holder not known", shopSite, (&softkey.Device{Unsure: true}).Make(t, options(), shopSite.Origin), ErrPasskey)
	add("what a sign-in was asked", shopSite, (&softkey.Device{}).Make(t, ask(t, a), shopSite.Origin), ErrAsked)
	late := (&softkey.Device{}).Make(t, options(), shopSite.Origin)
	c.pass(askedFor)
	add("late", shopSite, late, ErrAsked)

	sign := func(what string, d *softkey.Device, site Site, origin string, want error) {
		t.Helper()
		_, _, err := a.SignInByPasskey(ctx, site, d.Sign(t, ask(t, a), origin))
		is(t, "signing in: "+what, err, want)
	}
	answer := d.Sign(t, ask(t, a), shopSite.Origin)
	_, _, err = a.SignInByPasskey(ctx, shopSite, answer)
	is(t, "signing in: as asked", err, nil)
	_, _, err = a.SignInByPasskey(ctx, shopSite, answer)
	is(t, "signing in: the same again", err, ErrAsked)
	sign("under another name", d, elsewhere, shopSite.Origin, ErrPasskey)
	sign("asked under one name, answered under another", d, elsewhere, elsewhere.Origin, ErrPasskey)
	sign("from another page", d, shopSite, "http://shop.example:8412", ErrPasskey)
	sign("a key that nobody added", added(t, options()), shopSite, shopSite.Origin, ErrPasskey)
	d.Spoilt = true
	sign("another signature", d, shopSite, shopSite.Origin, ErrPasskey)
	d.Spoilt, d.Unsure = false, true
	sign("holder not known", d, shopSite, shopSite.Origin, ErrPasskey)
	d.Unsure, d.Count = false, 0
	sign("a copy counts from an older count", d, shopSite, shopSite.Origin, ErrCopied)
	d.Count = 50
	sign("the device itself", d, shopSite, shopSite.Origin, nil)
	_, _, err = a.SignInByPasskey(ctx, shopSite, d.Sign(t, options(), shopSite.Origin))
	is(t, "signing in: what an addition was asked", err, ErrAsked)
	answer = d.Sign(t, ask(t, a), shopSite.Origin)
	c.pass(askedFor)
	_, _, err = a.SignInByPasskey(ctx, shopSite, answer)
	is(t, "signing in: late", err, ErrAsked)
}

// added is a device with a key of which nobody was told.
func added(t *testing.T, options []byte) *softkey.Device {
	t.Helper()
	d := &softkey.Device{}
	d.Make(t, options, shopSite.Origin)
	return d
}

// TestPasskeysEnd: whatever shuts somebody out shuts out their passkeys, too.
func TestPasskeysEnd(t *testing.T) {
	a, _, mara := owned(t)
	ctx := t.Context()
	d := &softkey.Device{}
	has := func(what string, id string, want int) {
		t.Helper()
		if list, err := a.Passkeys(ctx, id); err != nil || len(list) != want {
			t.Errorf("after %s: %+v, want %d (%v)", what, list, want, err)
		}
	}
	in := signIn(t, a)
	addKey(t, a, in, d, "Tablet")
	is(t, "another password", a.SetPassword(ctx, in, good, good+" and more"), nil)
	has("another password", mara.ID, 1) // what is one's own stays
	_, err := a.Claim(ctx, link(t, a), "Mara", good)
	is(t, "a new link", err, nil)
	has("a new link", mara.ID, 0)
	is(t, "somebody else's link", func() error { _, _, err := a.NewLink(ctx, mara.ID, mara.ID); return err }(), ErrOwner)

	invited, _, err := a.Invite(ctx, mara.ID, "Ivo", Technician)
	is(t, "inviting", err, nil)
	ivo, err := a.Claim(ctx, invited, "Ivo", good)
	is(t, "joining", err, nil)
	join := func() string {
		t.Helper()
		token, _, err := a.SignIn(ctx, "Ivo", good, From{Address: home})
		is(t, "signing in", err, nil)
		return token
	}
	token := join()
	addKey(t, a, token, d, "Phone")
	is(t, "the owner's passkeys, removed by somebody", a.RemovePasskeys(ctx, ivo.ID, mara.ID), ErrOwner)
	is(t, "removed by the owner", a.RemovePasskeys(ctx, mara.ID, ivo.ID), nil)
	has("the owner's removal", ivo.ID, 0)
	_, err = a.Session(ctx, token)
	is(t, "the session after it", err, ErrSignedOut)
	token = join()
	is(t, "removed where there is none", a.RemovePasskeys(ctx, mara.ID, ivo.ID), nil)
	_, err = a.Session(ctx, token)
	is(t, "the session after that", err, nil)
	addKey(t, a, token, d, "Phone")
	options, err := a.AskPasskey(ctx, token, good, shopSite)
	is(t, "asking", err, nil)
	is(t, "withdrawn", a.Withdraw(ctx, mara.ID, ivo.ID), nil)
	has("leaving", ivo.ID, 0)
	_, err = a.AddPasskey(ctx, token, shopSite, "Late", (&softkey.Device{}).Make(t, options, shopSite.Origin))
	is(t, "one added after that", err, ErrSignedOut)
	_, _, err = byKey(t, a, d)
	is(t, "signing in after that", err, ErrPasskey)

	token = signIn(t, a)
	addKey(t, a, token, d, "Tablet")
	is(t, "signing out", a.SignOut(ctx, token), nil)
	_, err = a.keep(ctx, token, mara, shopSite, "Late", &webauthn.Credential{ID: []byte("late")})
	is(t, "one kept when its holder has just signed out", err, ErrSignedOut)
	is(t, "a restored copy", a.EndAll(ctx), nil)
	has("a restored copy", mara.ID, 0)
}

// TestPasskeysAreBounded: an account has a few, and an address asks at a pace.
func TestPasskeysAreBounded(t *testing.T) {
	a, c, mara := owned(t)
	ctx := t.Context()
	in := signIn(t, a)
	addKey(t, a, in, &softkey.Device{}, "Tablet")
	for i := range MostPasskeys - 1 { // the same without the password's hash
		_, err := a.keep(ctx, in, mara, shopSite, "Tablet", &webauthn.Credential{ID: []byte{byte(i)}})
		is(t, "one more", err, nil)
	}
	_, err := a.keep(ctx, in, mara, shopSite, "Tablet", &webauthn.Credential{ID: []byte("more")})
	is(t, "one too many, made meanwhile", err, ErrMany)
	_, err = a.AskPasskey(ctx, in, good, shopSite)
	is(t, "one too many", err, ErrMany)
	n := 0
	var wait *Wait
	for ; !errors.As(err, &wait) && n < 100; n++ {
		_, err = a.AskSignIn(ctx, shopSite, From{Address: home})
	}
	if n != askBurst+1 || wait == nil || wait.For > askEvery {
		t.Errorf("asked %d times, then %v", n, err)
	}
	_, err = a.AskSignIn(ctx, shopSite, From{Address: "192.0.2.99"})
	is(t, "from another address", err, nil)
	signIn(t, a) // the password's pace is another
	c.pass(time.Hour)
	ask(t, a)
	var left int
	if err := a.db.Read(ctx, func(tx *sql.Tx) error { return tx.QueryRowContext(ctx, "SELECT count(*) FROM challenge").Scan(&left) }); err != nil || left != 1 {
		t.Errorf("%d challenges are kept, want 1: the others have grown old (%v)", left, err)
	}
}
