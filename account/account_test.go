package account

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"

	"chargewright/internal/sample"
	"chargewright/store"
)

const (
	good  = "copper braid 41"
	other = "white lithium grease"
	home  = "192.0.2.7"
)

// clock is a time that the test moves.
type clock struct{ t time.Time }

func (c *clock) now() time.Time       { return c.t }
func (c *clock) pass(d time.Duration) { c.t = c.t.Add(d) }
func (c *clock) minutes(n float64)    { c.pass(time.Duration(n * float64(time.Minute))) }

// open is a workshop without accounts. Its passwords cost little to hash: that
// they cost enough elsewhere, TestKnownHash says.
func open(t testing.TB) (*Accounts, *clock, *store.DB) {
	t.Helper()
	db := on.Open(t)
	c := &clock{time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)}
	a := New(db, c.now, CheapHashes)
	return a, c, db
}

func link(t testing.TB, a *Accounts) string {
	t.Helper()
	token, _, err := a.OwnerLink(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return token
}

// owned is a workshop whose owner is Mara.
func owned(t testing.TB) (*Accounts, *clock, Account) {
	t.Helper()
	a, c, _ := open(t)
	acc, err := a.Claim(context.Background(), link(t, a), "Mara", good)
	if err != nil {
		t.Fatal(err)
	}
	return a, c, acc
}

func signIn(t testing.TB, a *Accounts) string {
	t.Helper()
	token, _, err := a.SignIn(context.Background(), "Mara", good, From{Address: home})
	if err != nil {
		t.Fatal(err)
	}
	return token
}

// is reports an error that is not the wanted one; nil wants none.
func is(t testing.TB, what string, got, want error) {
	t.Helper()
	if !errors.Is(got, want) || (want == nil) != (got == nil) {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}

// TestOwnerLink: good once, within its hour, and only the newest.
func TestOwnerLink(t *testing.T) {
	a, c, _ := open(t)
	ctx := t.Context()
	has := func(want bool) {
		t.Helper()
		if got, err := a.HasOwner(ctx); err != nil || got != want {
			t.Errorf("has an owner: %v (%v), want %v", got, err, want)
		}
	}
	has(false)
	is(t, "no link made yet", a.CheckLink(ctx, ""), ErrLink)
	first := link(t, a)
	second, expires, err := a.OwnerLink(ctx)
	if err != nil || !expires.Equal(c.t.Add(LinkFor)) || len(second) != 43 || first == second {
		t.Fatalf("%q then %q, expires %v (%v)", first, second, expires, err)
	}
	is(t, "replaced", a.CheckLink(ctx, first), ErrLink)
	is(t, "newest", a.CheckLink(ctx, second), nil)
	is(t, "newest, looked at again", a.CheckLink(ctx, second), nil)
	is(t, "cut short", a.CheckLink(ctx, second[:42]), ErrLink)
	c.pass(LinkFor - time.Second)
	is(t, "last second", a.CheckLink(ctx, second), nil)
	c.pass(time.Second)
	is(t, "run out", a.CheckLink(ctx, second), ErrLink)
	_, err = a.Claim(ctx, second, "Mara", good)
	is(t, "claim with one that has run out", err, ErrLink)
	has(false)

	third := link(t, a)
	_, err = a.Claim(ctx, third, "", "short")
	if err == nil || errors.Is(err, ErrLink) {
		t.Errorf("got %v", err)
	}
	acc, err := a.Claim(ctx, third, "  Mara   ", good)
	if err != nil || acc.Name != "Mara" || acc.Role != Owner || acc.ID == "" {
		t.Fatalf("%+v (%v)", acc, err)
	}
	has(true)
	_, err = a.Claim(ctx, third, "Eve", other)
	is(t, "used", err, ErrLink)

	// A lost password: a new link, the same account, the old sessions over.
	token := signIn(t, a)
	again, err := a.Claim(ctx, link(t, a), "Mara K", other)
	if err != nil || again.ID != acc.ID {
		t.Errorf("%+v (%v), want id %s", again, err, acc.ID)
	}
	_, err = a.Session(ctx, token)
	is(t, "session from before", err, ErrSignedOut)
	_, _, err = a.SignIn(ctx, "Mara", good, From{Address: home})
	is(t, "old name and password", err, ErrWrong)
	_, _, err = a.SignIn(ctx, "mara k", other, From{Address: home})
	is(t, "new ones", err, nil)
}

// TestOneOfManyClaims: whoever uses the link first has it, alone.
func TestOneOfManyClaims(t *testing.T) {
	a, _, _ := open(t)
	token := link(t, a)
	var all sync.WaitGroup
	var mu sync.Mutex
	claimed := 0
	for range 6 {
		all.Go(func() {
			_, err := a.Claim(t.Context(), token, "Mara", good)
			if err != nil {
				is(t, "late", err, ErrLink)
				return
			}
			mu.Lock()
			defer mu.Unlock()
			claimed++
		})
	}
	all.Wait()
	if claimed != 1 {
		t.Errorf("claimed %d times", claimed)
	}
}

// TestPasswordRules: everything that is wrong with it at once.
func TestPasswordRules(t *testing.T) {
	for password, want := range map[string][]string{
		good:                           nil,
		"correct horse":                nil,
		strings.Repeat("abcde ", 33):   nil,
		"ßüöäéèñçøåæš":                 nil,
		"elevenchars":                  {"has 11 characters: write at least 12"},
		"":                             {"has 0 characters", "repeats a few"},
		"aaaaaaaaaaaaa":                {"repeats a few"},
		strings.Repeat("abcdefgh", 26): {"has 208 characters: write at most 200"},
		"Mara Kowal 12":                {"most of the password is the name"},
		"mara  kowal mara kowal 1234":  nil, // long enough without it
		"abcdefghijkl\xff":             {"no text"},
	} {
		err := checkPassword("Mara Kowal", password)
		if (err == nil) != (want == nil) || err != nil && strings.Count(err.Error(), "\n") != len(want)-1 {
			t.Errorf("%q: %v, want %q", password, err, want)
		}
		for _, w := range want {
			if err != nil && !strings.Contains(err.Error(), w) {
				t.Errorf("%q: %v, want %q", password, err, w)
			}
		}
	}
	for name, fine := range map[string]bool{"": false, "\xff": false, strings.Repeat("x", 61): false, strings.Repeat("ü", 60): true} {
		if err := checkName(name); (err == nil) != fine {
			t.Errorf("name %q: %v", name, err)
		}
	}
}

// TestSignIn: name in any case, password exactly, and the same answer whichever
// is wrong.
func TestSignIn(t *testing.T) {
	a, c, acc := owned(t)
	for _, w := range []struct {
		name, password string
		want           error
	}{
		{"Mara", good, nil},
		{" mARA ", good, nil},
		{"Mara", good + " ", ErrWrong},
		{"Mara", strings.ToUpper(good), ErrWrong},
		{"Mara", "", ErrWrong},
		{"Maria", good, ErrWrong},
		{"", "", ErrWrong},
	} {
		token, s, err := a.SignIn(t.Context(), w.name, w.password, From{Address: home})
		is(t, w.name+", "+w.password, err, w.want)
		if (token == "") != (w.want != nil) || (s.Account == acc) != (w.want == nil) {
			t.Errorf("%s: token %q, session %+v", w.name, token, s)
		}
		c.minutes(3) // not to be told to wait
	}
	first, second := signIn(t, a), signIn(t, a)
	if first == second {
		t.Error("two sessions have the same token")
	}
}

// TestPasswordTypedElsewhere: a letter with its accent apart is the same letter.
func TestPasswordTypedElsewhere(t *testing.T) {
	a, _, _ := open(t)
	if _, err := a.Claim(t.Context(), link(t, a), "Re\u0301mi", "le cafe\u0301 du matin"); err != nil {
		t.Fatal(err)
	}
	_, _, err := a.SignIn(t.Context(), "R\u00e9mi", "le caf\u00e9 du matin", From{Address: home})
	is(t, "composed", err, nil)
}

// TestSession: over when idle, when old, when signed out.
func TestSession(t *testing.T) {
	a, c, acc := owned(t)
	ctx := t.Context()
	begin := c.t
	token := signIn(t, a)
	idle := signIn(t, a)
	for c.t.Before(begin.Add(OldAfter)) {
		s, err := a.Session(ctx, token)
		if err != nil || s.Account != acc || !s.Created.Equal(begin) || !s.Expires.Equal(begin.Add(OldAfter)) {
			t.Fatalf("after %v: %+v (%v)", c.t.Sub(begin), s, err)
		}
		c.pass(IdleAfter - time.Minute)
	}
	_, err := a.Session(ctx, token)
	is(t, "old, though used", err, ErrSignedOut)
	_, err = a.Session(ctx, idle)
	is(t, "idle", err, ErrSignedOut)

	token = signIn(t, a)
	c.pass(30 * time.Second) // a use that is not written down yet
	_, err = a.Session(ctx, token)
	is(t, "in use", err, nil)
	c.pass(IdleAfter - 30*time.Second - time.Second)
	_, err = a.Session(ctx, token)
	is(t, "last second", err, nil)
	c.pass(IdleAfter)
	_, err = a.Session(ctx, token)
	is(t, "idle", err, ErrSignedOut)

	one, two := signIn(t, a), signIn(t, a)
	is(t, "signing out", a.SignOut(ctx, one), nil)
	is(t, "signing out again", a.SignOut(ctx, one), nil)
	_, err = a.Session(ctx, one)
	is(t, "signed out", err, ErrSignedOut)
	_, err = a.Session(ctx, two)
	is(t, "the other one", err, nil)
	is(t, "everywhere", a.SignOutEverywhere(ctx, acc.ID), nil)
	_, err = a.Session(ctx, two)
	is(t, "signed out everywhere", err, ErrSignedOut)
	for _, token := range []string{"", "x", strings.Repeat("A", 43)} {
		_, err = a.Session(ctx, token)
		is(t, "no token", err, ErrSignedOut)
	}
}

// TestSetPassword: with the old one only; other sessions end.
func TestSetPassword(t *testing.T) {
	a, c, _ := owned(t)
	ctx := t.Context()
	mine, theirs := signIn(t, a), signIn(t, a)
	is(t, "without the old one", a.SetPassword(ctx, mine, other, other), ErrWrong)
	if err := a.SetPassword(ctx, mine, other, "short"); !errors.Is(err, ErrWrong) || !strings.Contains(err.Error(), "at least 12") {
		t.Errorf("both problems are told: %v", err)
	}
	is(t, "signed out", a.SetPassword(ctx, "nobody", good, other), ErrSignedOut)
	is(t, "with it", a.SetPassword(ctx, mine, good, other), nil)
	_, err := a.Session(ctx, mine)
	is(t, "mine", err, nil)
	_, err = a.Session(ctx, theirs)
	is(t, "theirs", err, ErrSignedOut)
	c.minutes(3)
	_, _, err = a.SignIn(ctx, "Mara", good, From{Address: home})
	is(t, "the old password", err, ErrWrong)
	_, _, err = a.SignIn(ctx, "Mara", other, From{Address: home})
	is(t, "the new one", err, nil)
	for range 2 * deviceBurst { // guessing the old one of somebody who left the page open
		err = a.SetPassword(ctx, mine, "a guess", other)
	}
	var w *Wait
	if !errors.As(err, &w) {
		t.Errorf("guessing goes on: %v", err)
	}
}

// TestNothingSecretIsStored: neither tokens nor passwords stand in the files.
func TestNothingSecretIsStored(t *testing.T) {
	a, _, db := open(t)
	a.cost = full
	used := link(t, a)
	if _, err := a.Claim(t.Context(), used, "Mara", good); err != nil {
		t.Fatal(err)
	}
	session := signIn(t, a)
	unused := link(t, a)
	var files []byte
	for _, name := range []string{db.File(), db.File() + "-wal"} {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, data...)
	}
	if !bytes.Contains(files, []byte("$argon2id$v=19$m=19456,t=2,p=1$")) {
		t.Error("no hash of a password is in the files: the search is blind")
	}
	for what, secret := range map[string]string{"password": good, "used link": used, "link": unused, "session": session} {
		if bytes.Contains(files, []byte(secret)) {
			t.Errorf("the %s stands in the files", what)
		}
	}
}

func freshPace(t *testing.T) pace { a, _, _ := open(t); return a.pace }

// TestPace: a name from one address has few tries and then one at a time; a name
// from everywhere and an address have more; a known device has its own.
func TestPace(t *testing.T) {
	now := time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)
	waits := func(what string, err error, want time.Duration) {
		t.Helper()
		var w *Wait
		if !errors.As(err, &w) || w.For.Round(time.Millisecond) != want {
			t.Errorf("%s: got %v, want to wait %v", what, err, want)
		}
	}
	p := freshPace(t)
	for range pairBurst {
		is(t, "within the burst", p.allow(t.Context(), now, "mara", home, ""), nil)
	}
	waits("one too many", p.allow(t.Context(), now, "mara", home+":4711", ""), pairEvery)
	waits("being refused does not make the wait longer", p.allow(t.Context(), now.Add(pairEvery-time.Second), "mara", home, ""), time.Second)
	is(t, "the same name from elsewhere", p.allow(t.Context(), now, "mara", "192.0.2.8", ""), nil)
	is(t, "another name from there", p.allow(t.Context(), now, "ben", home, ""), nil)
	is(t, "a device that is known", p.allow(t.Context(), now, "mara", home, "tablet"), nil)
	is(t, "later", p.allow(t.Context(), now.Add(pairEvery), "mara", home, ""), nil)
	is(t, "forgetting", p.forget(t.Context(), now.Add(pairEvery), "mara", home, ""), nil)
	is(t, "after a right one", p.allow(t.Context(), now.Add(pairEvery), "mara", home, ""), nil)

	p = freshPace(t)
	for i := range addressBurst {
		is(t, "within the burst", p.allow(t.Context(), now, string(rune('a'+i)), home, ""), nil)
	}
	waits("an address with many names", p.allow(t.Context(), now, "z", home, ""), addressEvery)
	is(t, "another address", p.allow(t.Context(), now, "z", "192.0.2.8", ""), nil)

	p = freshPace(t)
	for i := range nameBurst {
		is(t, "within the burst", p.allow(t.Context(), now, "mara", fmt.Sprint("192.0.2.", i), ""), nil)
	}
	waits("a name from many addresses", p.allow(t.Context(), now, "mara", "198.51.100.1", ""), nameEvery)

	p = freshPace(t)
	for range deviceBurst {
		is(t, "within the burst", p.allow(t.Context(), now, "mara", home, "stolen"), nil)
	}
	waits("a stolen proof", p.allow(t.Context(), now, "mara", home, "stolen"), deviceEvery)
	is(t, "another device", p.allow(t.Context(), now, "mara", home, "tablet"), nil)
}

// TestOneDeviceLocksNobodyOut: behind a proxy all devices come from one address,
// and the workshop has one name. Whatever a stranger there tries and however
// long, the devices that have signed in before sign in; and what it may try in a
// day is little. A new password makes strangers of all.
func TestOneDeviceLocksNobodyOut(t *testing.T) {
	a, c, _ := owned(t)
	ctx := t.Context()
	_, first, err := a.SignIn(ctx, "Mara", good, From{Address: home})
	if err != nil || first.Device == "" {
		t.Fatalf("%+v %v", first, err)
	}
	tablet := From{Address: home, Device: first.Device}
	let, day := 0, time.Duration(sample.Count(3, 24))*time.Hour
	for at := time.Duration(0); at < day; at += 15 * time.Second { // four tries a minute, all day with CHARGEWRIGHT_ALL
		if a.pace.allow(t.Context(), c.now(), "mara", home, "") == nil {
			let++
		}
		c.pass(15 * time.Second)
	}
	if most := int(day/pairEvery) + pairBurst; let > most || let < most-1 {
		t.Errorf("a stranger had %d tries in %v, want %d", let, day, most)
	}
	for range pairBurst {
		_ = a.pace.allow(t.Context(), c.now(), "mara", home, "")
	}
	var w *Wait
	_, _, err = a.SignIn(ctx, "Mara", good, From{Address: home})
	if !errors.As(err, &w) {
		t.Errorf("a device that nobody knows, behind the same proxy: %v", err)
	}
	_, again, err := a.SignIn(ctx, "Mara", good, tablet)
	is(t, "the tablet", err, nil)
	for range deviceBurst {
		_, _, err = a.SignIn(ctx, "Mara", "a wet thumb", tablet)
		is(t, "its wrong password", err, ErrWrong)
	}
	_, _, err = a.SignIn(ctx, "Mara", good, tablet)
	if !errors.As(err, &w) {
		t.Errorf("a known device guesses on: %v", err)
	}
	_, _, err = a.SignIn(ctx, "Mara", good, From{Address: home, Device: again.Device})
	is(t, "another device", err, nil)

	if _, err = a.Claim(ctx, link(t, a), "Mara", other); err != nil {
		t.Fatal(err)
	}
	for range 2 * pairBurst {
		_ = a.pace.allow(t.Context(), c.now(), "mara", home, "")
	}
	_, _, err = a.SignIn(ctx, "Mara", other, From{Address: home, Device: again.Device})
	if !errors.As(err, &w) {
		t.Errorf("a proof outlives its password: %v", err)
	}
}

// TestProofs: what is no proof of a device is none, whoever it is shown for.
func TestProofs(t *testing.T) {
	mara, ben := Account{ID: "p-1"}, Account{ID: "p-2"}
	proof := newProof(mara, "$stored")
	if provenDevice(proof, mara, "$stored") == "" || proof == newProof(mara, "$stored") {
		t.Errorf("%q is no proof, or the same for every device", proof)
	}
	number, sealed, _ := strings.Cut(proof, ".")
	for _, bad := range []string{"", ".", number, "." + sealed, number + ".", "x" + proof, proof + "x", number + "." + number} {
		if got := provenDevice(bad, mara, "$stored"); got != "" {
			t.Errorf("%q is good for %s", bad, got)
		}
	}
	if provenDevice(proof, ben, "$stored") != "" || provenDevice(proof, mara, "$other") != "" {
		t.Error("a proof is good for another account, or after another password")
	}
}

// TestSignInIsPaced: with the right password, too, and before any hashing.
func TestSignInIsPaced(t *testing.T) {
	a, c, _ := owned(t)
	for range pairBurst {
		_, _, err := a.SignIn(t.Context(), "Mara", "a guess", From{Address: home})
		is(t, "a guess", err, ErrWrong)
	}
	a.hashing <- struct{}{}
	a.hashing <- struct{}{} // nobody can hash now
	_, _, err := a.SignIn(t.Context(), "Mara", good, From{Address: home})
	var w *Wait
	if !errors.As(err, &w) {
		t.Errorf("got %v, want to wait", err)
	}
	c.pass(w.For)
	for what, name := range map[string]string{"nobody waits for ever for the hashing": "Mara", "a name that nobody has is hashed for too": "Nobody"} {
		short, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
		_, _, err = a.SignIn(short, name, good, From{Address: home})
		is(t, what, err, context.DeadlineExceeded)
		cancel()
	}
	<-a.hashing
	c.pass(pairEvery)
	_, _, err = a.SignIn(t.Context(), "Mara", good, From{Address: home})
	is(t, "after the wait", err, nil)
	<-a.hashing
	for range 2 * pairBurst { // right ones need not wait
		signIn(t, a)
	}
}

// TestNetwork: what counts as one address.
func TestNetwork(t *testing.T) {
	for address, want := range map[string]string{
		"192.0.2.7": "192.0.2.7", "192.0.2.7:80": "192.0.2.7", "::ffff:192.0.2.7": "192.0.2.7",
		"2001:db8:1:2:3:4:5:6": "2001:db8:1:2::/64", "[2001:db8:1:2::9]:443": "2001:db8:1:2::/64", "fe80::1%eth0": "fe80::/64",
		"a socket": "a socket",
	} {
		if got := network(address); got != want {
			t.Errorf("%s counts as %s, want %s", address, got, want)
		}
	}
}

// TestPaceIsShared: two servers of a workshop let through no more than one does,
// and what limits nobody any more is forgotten.
func TestPaceIsShared(t *testing.T) {
	a, c, db := open(t)
	other := New(db, c.now)
	let := 0
	for i := range 4 * pairBurst {
		if []*Accounts{a, other}[i%2].pace.allow(t.Context(), c.now(), "mara", home, "") == nil {
			let++
		}
	}
	if let != pairBurst {
		t.Errorf("two servers let %d tries through, want %d", let, pairBurst)
	}
	c.pass(time.Hour)
	is(t, "an hour later", other.pace.allow(t.Context(), c.now(), "ben", "198.51.100.1", ""), nil)
	rows := 0
	err := db.Read(t.Context(), func(tx *sql.Tx) error {
		return tx.QueryRowContext(t.Context(), "SELECT count(*) FROM pace").Scan(&rows)
	})
	if err != nil || rows != 4 {
		t.Errorf("%d rows are kept (%v), want those of the last try, 4", rows, err)
	}
}

// TestSecrets: what is stored is read back; what is damaged is told and not used.
func TestSecrets(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		s := secret{
			cost{rapid.Uint32Range(8, 1<<20).Draw(r, "memory"), rapid.Uint32Range(1, 20).Draw(r, "passes"), rapid.Uint8Range(1, 255).Draw(r, "lanes")},
			rapid.SliceOfN(rapid.Byte(), 1, 40).Draw(r, "salt"), rapid.SliceOfN(rapid.Byte(), 16, 64).Draw(r, "key"),
		}
		got, err := parseSecret(s.String())
		if err != nil || got.String() != s.String() {
			r.Fatalf("%v: %v (%v)", s, got, err)
		}
	})
	for _, text := range []string{
		"", "x", "$2b$10$abcdefghijklmnopqrstuv", "$argon2id$v=16$m=19456,t=2,p=1$AAAA$" + strings.Repeat("A", 43),
		"$argon2id$v=19$m=19456,t=0,p=1$AAAA$" + strings.Repeat("A", 43), "$argon2id$v=19$m=99999999,t=2,p=1$AAAA$" + strings.Repeat("A", 43),
		"$argon2id$v=19$m=19456,t=2,p=0$AAAA$" + strings.Repeat("A", 43), "$argon2id$v=19$m=19456,t=2,p=1$AAAA$",
		"$argon2id$v=19$m=19456,t=2,p=1$A*AA$" + strings.Repeat("A", 43), "$argon2id$v=19$m=19456$AAAA$" + strings.Repeat("A", 43),
	} {
		if s, err := parseSecret(text); err == nil || !strings.Contains(err.Error(), "a new link") {
			t.Errorf("%q: %v (%v)", text, s, err)
		}
	}
}

// TestKnownHash: program: argon2 0~20171227 (Debian), of "copper braid 41" with salt
// 0123456789abcdef: argon2 0123456789abcdef -id -t 2 -k 19456 -p 1 -l 32 -e.
func TestKnownHash(t *testing.T) {
	a, _, _ := open(t)
	s, err := parseSecret("$argon2id$v=19$m=19456,t=2,p=1$MDEyMzQ1Njc4OWFiY2RlZg$1nxnnvhMkOPzUhVz5/5dO9w9NE/Z8Snq0gysIrVIiGo")
	if err != nil {
		t.Fatal(err)
	}
	for password, want := range map[string]bool{good: true, other: false} {
		if got, err := a.fits(t.Context(), password, s); err != nil || got != want {
			t.Errorf("%q fits: %v (%v), want %v", password, got, err, want)
		}
	}
	if db := on.Open(t); !s.current(New(db, time.Now).cost) {
		t.Error("today's parameters are not 19 MiB, two passes, one lane")
	}
}

// TestOlderPasswordIsStoredAnew at the next sign-in.
func TestOlderPasswordIsStoredAnew(t *testing.T) {
	a, _, acc := owned(t)
	a.cost = full
	old := secret{cost{8 * 1024, 1, 1}, []byte("0123456789abcdef"), nil}
	key, err := a.key(t.Context(), good, old, keyLen)
	if err != nil {
		t.Fatal(err)
	}
	old.key = key
	if err := a.db.Exec(t.Context(), "UPDATE account SET password = '"+old.String()+"'"); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		signIn(t, a)
	}
	if _, s, err := a.find(t.Context(), "id", acc.ID); err != nil || !s.current(full) {
		t.Errorf("%v (%v)", s, err)
	}
}

// TestPasswordChangedMeanwhile: a password that was right when it was checked and
// is not any more begins no session.
func TestPasswordChangedMeanwhile(t *testing.T) {
	a, _, acc := owned(t)
	_, before, err := a.find(t.Context(), "id", acc.ID)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := a.Claim(t.Context(), link(t, a), "Mara", other); err != nil {
		t.Fatal(err)
	}
	token, _, err := a.begin(t.Context(), acc, before.String(), before.String(), nil)
	is(t, "the old password", err, ErrWrong)
	if token != "" {
		t.Error("a session was begun")
	}
}
