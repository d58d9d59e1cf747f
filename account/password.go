package account

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"strings"

	"golang.org/x/crypto/argon2"
	"golang.org/x/text/unicode/norm"
)

// full is what a password's hash costs: Argon2id as the OWASP password storage
// sheet's second setting has it (memory): 19 MiB, two passes, one lane.
var full = cost{19 * 1024, 2, 1}

// cost is what makes guessing dear. Only tests take another one: see CheapHashes.
type cost struct {
	memory, passes uint32 // [KiB], times
	lanes          uint8
}

// hashers at once bound the memory.
const (
	saltLen = 16
	keyLen  = 32
	hashers = 2
)

// hash is a password as it is stored: the parameters, the salt and the key, in
// the usual text form ($argon2id$v=19$m=…,t=…,p=…$salt$key).
func (a *Accounts) hash(ctx context.Context, password string) (string, error) {
	var salt [saltLen]byte
	_, _ = rand.Read(salt[:]) // crypto/rand never fails: it ends the program instead
	s := secret{a.cost, salt[:], nil}
	key, err := a.key(ctx, password, s, keyLen)
	s.key = key
	return s.String(), err
}

// secret is a stored password.
type secret struct {
	cost
	salt, key []byte
}

var b64 = base64.RawStdEncoding

func (s secret) String() string {
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, s.memory, s.passes, s.lanes, b64.EncodeToString(s.salt), b64.EncodeToString(s.key))
}

// current says whether a password was stored as it would be today.
func (s secret) current(c cost) bool {
	return s.cost == c && len(s.salt) == saltLen && len(s.key) == keyLen
}

func parseSecret(text string) (s secret, err error) {
	parts := strings.Split(text, "$")
	if len(parts) != 6 || parts[1] != "argon2id" || parts[2] != fmt.Sprintf("v=%d", argon2.Version) {
		return s, fmt.Errorf("a stored password is not of argon2id, version %d: have a new link made and set another", argon2.Version)
	}
	if _, err = fmt.Sscanf(parts[3], "m=%d,t=%d,p=%d", &s.memory, &s.passes, &s.lanes); err == nil {
		s.salt, err = b64.DecodeString(parts[4])
	}
	if err == nil {
		s.key, err = b64.DecodeString(parts[5])
	}
	if err == nil && (s.memory > 1<<20 || s.passes < 1 || s.passes > 20 || s.lanes < 1 || len(s.key) < 16) {
		err = fmt.Errorf("m=%d, t=%d, p=%d, a key of %d bytes", s.memory, s.passes, s.lanes, len(s.key))
	}
	if err != nil {
		return s, fmt.Errorf("a stored password cannot be used (%w): have a new link made and set another", err)
	}
	return s, nil
}

// nobody is the stored password of a name that nobody has: checking it takes as
// long as checking a real one, and it fits none.
func (a *Accounts) nobody() secret {
	return secret{a.cost, make([]byte, saltLen), make([]byte, keyLen)}
}

// fits says whether a password is the stored one.
func (a *Accounts) fits(ctx context.Context, password string, s secret) (bool, error) {
	key, err := a.key(ctx, password, s, len(s.key))
	return err == nil && subtle.ConstantTimeCompare(key, s.key) == 1, err
}

// key derives a key, a few at a time. The same text typed on different devices
// is the same password (RFC 8265, 4.2: NFC).
func (a *Accounts) key(ctx context.Context, password string, s secret, length int) ([]byte, error) {
	select {
	case a.hashing <- struct{}{}:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	defer func() { <-a.hashing }()
	return argon2.IDKey([]byte(norm.NFC.String(password)), s.salt, s.passes, s.memory, s.lanes, uint32(length)), nil
}
