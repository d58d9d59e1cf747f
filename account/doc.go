// Package account says who is at the other end and what they may do: a one-time
// link makes the workshop's owner and whoever the owner invites, a password or a
// passkey signs in, a session stays signed in until it is idle too long, too old,
// signed out, or its account withdrawn. role.go has the one table of roles and duties.
//
// It refuses weak passwords, telling everything that is wrong with one at once;
// a link that was used, replaced or has run out; and sign-ins that come too fast
// for one name, from one address or from one device. It does not say whether the name or the
// password was wrong, and takes as long for a name that nobody has. Tokens and
// passwords are stored as hashes only. There is no HTTP here: web keeps the
// token in a cookie and passes the address.
//
// What an account did stands in the journal, under its id; so does what was done
// to it, written by Audit in the transaction that does it.
//
// Open account.go first, then signin.go, passkey.go, role.go, people.go.
package account
