package account

import (
	"context"
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"slices"
	"strings"
	"testing"

	"chargewright/internal/storetest"
)

func TestMain(m *testing.M) { os.Exit(storetest.Run(m)) }

// on is the kind of database that the tests run on.
var on = storetest.SQLite

// withDatabase are the tests that want a database; TestOnPostgres runs them once
// more.
var withDatabase = map[string]func(*testing.T){
	"TestOwnerLink": TestOwnerLink, "TestOneOfManyClaims": TestOneOfManyClaims, "TestSignIn": TestSignIn,
	"TestPasswordTypedElsewhere": TestPasswordTypedElsewhere, "TestSession": TestSession, "TestSetPassword": TestSetPassword,
	"TestSignInIsPaced": TestSignInIsPaced, "TestOneDeviceLocksNobodyOut": TestOneDeviceLocksNobodyOut, "TestNamesThatNobodyHas": TestNamesThatNobodyHas,
	"TestPeople": TestPeople, "TestPasskeys": TestPasskeys, "TestPasskeyAnswers": TestPasskeyAnswers, "TestPasskeysEnd": TestPasskeysEnd, "TestPasskeysAreBounded": TestPasskeysAreBounded,
	"TestInvitations": TestInvitations, "TestAuditHolds": TestAuditHolds,
	"TestEndAll": TestEndAll, "TestPace": TestPace, "TestMorning": TestMorning, "TestOwnAccountClearsNothing": TestOwnAccountClearsNothing, "TestShares": TestShares, "TestPaceIsShared": TestPaceIsShared, "TestOlderPasswordIsStoredAnew": TestOlderPasswordIsStoredAnew, "TestPasswordChangedMeanwhile": TestPasswordChangedMeanwhile,
}

// without are those that want none, or the files of one.
var without = []string{"TestMain", "TestOnPostgres", "TestEveryTestRunsOnBoth", "TestPasswordRules", "TestNothingSecretIsStored", "TestProofs", "TestNetwork", "TestRoles", "TestSecrets", "TestKnownHash"}

func TestOnPostgres(t *testing.T) {
	on = storetest.Postgres
	defer func() { on = storetest.SQLite }()
	for name, test := range withDatabase {
		t.Run(name, test)
	}
}

// TestEveryTestRunsOnBoth: a test that is not in one of the lists above is asked
// for.
func TestEveryTestRunsOnBoth(t *testing.T) {
	names, err := os.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range names {
		if !strings.HasSuffix(n.Name(), "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), n.Name(), nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range f.Decls {
			f, is := d.(*ast.FuncDecl)
			if is && strings.HasPrefix(f.Name.Name, "Test") && withDatabase[f.Name.Name] == nil && !slices.Contains(without, f.Name.Name) {
				t.Errorf("%s is in neither list: does it want a database?", f.Name.Name)
			}
		}
	}
}

// TestNamesThatNobodyHas: what is no text is no name, and no trouble.
func TestNamesThatNobodyHas(t *testing.T) {
	a, c, _ := open(t)
	for _, name := range []string{"\x00", "Mara\x00", "\xff", "a\x01b"} {
		if _, err := a.Claim(context.Background(), link(t, a), name, good); err == nil || errors.Is(err, ErrLink) {
			t.Errorf("%q is taken as a name (%v)", name, err)
		}
		if _, _, err := a.SignIn(context.Background(), name, good, From{Address: home}); !errors.Is(err, ErrWrong) {
			t.Errorf("%q signs in: %v", name, err)
		}
		c.minutes(3)
	}
	is(t, "a session", func() error { _, err := a.Session(t.Context(), "\x00"); return err }(), ErrSignedOut)
}

// TestEndAll: nobody is signed in and no link is good; the password stays.
func TestEndAll(t *testing.T) {
	a, _, _ := owned(t)
	session, l := signIn(t, a), link(t, a)
	is(t, "ending all", a.EndAll(t.Context()), nil)
	_, err := a.Session(t.Context(), session)
	is(t, "the session", err, ErrSignedOut)
	is(t, "the link", a.CheckLink(t.Context(), l), ErrLink)
	signIn(t, a)
}
