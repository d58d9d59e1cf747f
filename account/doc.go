// Package account says who is at the other end: a one-time link makes the
// workshop's owner, a password signs in, a session stays signed in until it is
// idle too long, too old, or signed out.
//
// It refuses weak passwords, telling everything that is wrong with one at once;
// a link that was used, replaced or has run out; and sign-ins that come too fast
// for one name, from one address or from one device. It does not say whether the name or the
// password was wrong, and takes as long for a name that nobody has. Tokens and
// passwords are stored as hashes only. There is no HTTP here: web keeps the
// token in a cookie and passes the address.
//
// There is one role, the owner; the tables hold a role for each account so that
// more can come. What an account did stands in the journal, under its id.
//
// Open account.go first, then signin.go.
package account
