package account

import (
	"strings"
	"testing"
)

// FuzzSecret: a stored password is refused or read back as it stands, and never asks for more
// than a server has.
func FuzzSecret(f *testing.F) {
	f.Add("$argon2id$v=19$m=19456,t=2,p=1$c2FsdHNhbHRzYWx0$" + strings.Repeat("QUFB", 8))
	f.Add("$argon2id$v=19$m=-1,t=2,p=300$$")
	f.Add("$argon2id$v=19$m=1,t=1,p=1x$AA$" + strings.Repeat("QUFB", 8))
	f.Fuzz(func(t *testing.T, text string) {
		s, err := parseSecret(text)
		if err != nil {
			return
		}
		if s.memory > 1<<20 || s.passes < 1 || s.passes > 20 || s.lanes < 1 || len(s.key) < 16 {
			t.Errorf("%q asks for %+v", text, s)
		}
		again, err := parseSecret(s.String())
		if err != nil || again.String() != s.String() {
			t.Errorf("%q is read back %q (%v)", s, again, err)
		}
	})
}
