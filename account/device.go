package account

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"strings"
)

// A device that has signed in once carries a proof of it: a number that nobody
// else has, and a seal over it and the account. The proof opens nothing; it only
// gives the device a pace of its own at the next sign-in, so that others who
// guess at the name cannot shut it out. Whoever steals one has five guesses and
// then one every half minute.
//
// The seal's key is made from the stored password, so that a new password ends
// every proof and no further secret has to be kept.

var proof64 = base64.RawURLEncoding

// newProof is a proof for a device that has just signed in.
func newProof(acc Account, stored string) string {
	var number [16]byte
	_, _ = rand.Read(number[:]) // crypto/rand never fails: it ends the program instead
	text := proof64.EncodeToString(number[:])
	return text + "." + proof64.EncodeToString(seal(text, acc, stored))
}

func seal(number string, acc Account, stored string) []byte {
	key := sha256.Sum256([]byte("chargewright device 1\n" + stored))
	h := hmac.New(sha256.New, key[:])
	_, _ = h.Write([]byte(acc.ID + "\n" + number)) // a hash never fails
	return h.Sum(nil)
}

// provenDevice is the number of a device whose proof is good for an account; ""
// when it is not.
func provenDevice(proof string, acc Account, stored string) string {
	number, sealed, _ := strings.Cut(proof, ".")
	given, err := proof64.DecodeString(sealed)
	if err != nil || number == "" || !hmac.Equal(given, seal(number, acc, stored)) {
		return ""
	}
	return number
}
