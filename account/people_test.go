package account

import (
	"context"
	"database/sql"
	"errors"
	"slices"
	"testing"
	"time"
)

// TestPeople: somebody is invited by a link that is good once and for three days,
// has the role that was given last, and is out at once when withdrawn.
func TestPeople(t *testing.T) {
	a, c, mara := owned(t)
	ctx := t.Context()
	var did []Change
	a.AuditTo(func(_ context.Context, _ *sql.Tx, c Change) error { did = append(did, c); return nil })
	if _, _, err := a.Invite(ctx, mara.ID, " ", "king"); err == nil || len(did) > 0 {
		t.Fatalf("no name and no role: %v, %v", err, did)
	}
	token, expires, err := a.Invite(ctx, mara.ID, "Ivo", Apprentice)
	if err != nil || expires.Sub(c.t) != InviteFor {
		t.Fatalf("good until %v (%v)", expires, err)
	}
	who, err := a.WhoseLink(ctx, token)
	if err != nil || who.Name != "Ivo" || who.Role != Apprentice {
		t.Fatalf("%+v (%v)", who, err)
	}
	if _, err := a.Claim(ctx, token, "mara", other); err == nil || errors.Is(err, ErrLink) {
		t.Fatalf("the owner's name, taken by another: %v", err)
	}
	is(t, "the link after a name that will not do", a.CheckLink(ctx, token), nil)
	is(t, "another role before it is used", a.SetRole(ctx, mara.ID, who.ID, Adviser), ErrNobody)
	ivo, err := a.Claim(ctx, token, "Ivo", other)
	if err != nil || ivo.ID != who.ID || ivo.Role != Apprentice {
		t.Fatalf("%+v (%v)", ivo, err)
	}
	_, err = a.Claim(ctx, token, "Ivo", other)
	is(t, "used twice", err, ErrLink)
	in, _, err := a.SignIn(ctx, "ivo", other, From{Address: home})
	is(t, "signing in", err, nil)
	is(t, "another role", a.SetRole(ctx, mara.ID, ivo.ID, Technician), nil)
	is(t, "the same once more", a.SetRole(ctx, mara.ID, ivo.ID, Technician), nil)
	if s, err := a.Session(ctx, in); err != nil || s.Account.Role != Technician {
		t.Errorf("%+v (%v)", s, err)
	}
	is(t, "withdrawn", a.Withdraw(ctx, mara.ID, ivo.ID), nil)
	is(t, "and once more", a.Withdraw(ctx, mara.ID, ivo.ID), nil)
	_, err = a.Session(ctx, in)
	is(t, "its session", err, ErrSignedOut)
	_, _, err = a.SignIn(ctx, "ivo", other, From{Address: home})
	is(t, "its sign-in", err, ErrWrong)
	if name, err := a.Name(ctx, ivo.ID); err != nil || name != "Ivo" {
		t.Errorf("what was recorded is by %q (%v)", name, err)
	}
	for what, err := range map[string]error{"withdrawing": a.Withdraw(ctx, mara.ID, mara.ID), "a role": a.SetRole(ctx, mara.ID, mara.ID, Adviser)} {
		is(t, what+" of the owner", err, ErrOwner)
	}
	token, _, err = a.NewLink(ctx, mara.ID, ivo.ID)
	is(t, "a link to come back", err, nil)
	if back, err := a.Claim(ctx, token, "Ivo", good); err != nil || back.ID != ivo.ID || back.Role != Technician {
		t.Errorf("%+v (%v)", back, err)
	}
	people, err := a.People(ctx)
	if err != nil || len(people) != 2 || people[1].Name != "Ivo" || people[1].Withdrawn || people[1].Sessions != 0 {
		t.Errorf("%+v (%v)", people, err)
	}
	var what []What
	for _, d := range did {
		what = append(what, d.What)
	}
	if want := []What{DidInvite, DidJoin, DidRole, DidWithdraw, DidLink, DidClaim}; !slices.Equal(what, want) {
		t.Errorf("written down: %v, want %v", what, want)
	}
}

// TestInvitations: a link can be taken back, and runs out.
func TestInvitations(t *testing.T) {
	a, c, mara := owned(t)
	ctx := t.Context()
	first, _, err := a.Invite(ctx, mara.ID, "Ivo", Instructor)
	is(t, "inviting", err, nil)
	second, _, err := a.Invite(ctx, mara.ID, "Una", Adviser)
	is(t, "inviting", err, nil)
	list, err := a.Invitations(ctx)
	if err != nil || len(list) != 2 || list[0].Again {
		t.Fatalf("%+v (%v)", list, err)
	}
	who, err := a.WhoseLink(ctx, first)
	is(t, "whose link", err, nil)
	is(t, "taking it back", a.Uninvite(ctx, mara.ID, who.ID), nil)
	is(t, "the link taken back", a.CheckLink(ctx, first), ErrLink)
	is(t, "taking back nobody's", a.Uninvite(ctx, mara.ID, ""), nil)
	owners := link(t, a) // its account is "", too: nothing takes it back
	is(t, "taking back nobody's", a.Uninvite(ctx, mara.ID, ""), nil)
	is(t, "the owner's link", a.CheckLink(ctx, owners), nil)
	c.pass(InviteFor - time.Second)
	is(t, "last second", a.CheckLink(ctx, second), nil)
	c.pass(time.Second)
	is(t, "run out", a.CheckLink(ctx, second), ErrLink)
	if list, err := a.Invitations(ctx); err != nil || len(list) != 0 {
		t.Errorf("%+v (%v)", list, err)
	}
}

// TestAuditHolds: what cannot be written down is not done.
func TestAuditHolds(t *testing.T) {
	a, _, mara := owned(t)
	ctx := t.Context()
	token, _, err := a.Invite(ctx, mara.ID, "Ivo", Apprentice)
	is(t, "inviting", err, nil)
	ivo, err := a.Claim(ctx, token, "Ivo", other)
	is(t, "joining", err, nil)
	full := errors.New("no room")
	a.AuditTo(func(context.Context, *sql.Tx, Change) error { return full })
	is(t, "a role", a.SetRole(ctx, mara.ID, ivo.ID, Technician), full)
	is(t, "withdrawing", a.Withdraw(ctx, mara.ID, ivo.ID), full)
	_, _, err = a.Invite(ctx, mara.ID, "Una", Adviser)
	is(t, "inviting", err, full)
	people, err := a.People(ctx)
	if err != nil || len(people) != 2 || people[1].Role != Apprentice || people[1].Withdrawn {
		t.Errorf("%+v (%v)", people, err)
	}
	if list, err := a.Invitations(ctx); err != nil || len(list) != 0 {
		t.Errorf("%+v (%v)", list, err)
	}
}

// TestRoles: nobody may do what is no duty, a role that is not known may nothing,
// and every duty is somebody's.
func TestRoles(t *testing.T) {
	for d := Anyone; d <= Run; d++ {
		if d != Anyone && (len(d.Who()) == 0 || d.Words() == "" || Role("king").May(d) || Role("").May(d)) {
			t.Errorf("duty %d: %v, %q", d, d.Who(), d.Words())
		}
		for _, r := range Invited() {
			if r.May(d) && !Owner.May(d) {
				t.Errorf("the %s may %s, the owner not", r, d.Words())
			}
		}
	}
	if Owner.May(0) {
		t.Error("the owner may do what is no duty: a route that says nothing would be open")
	}
}
