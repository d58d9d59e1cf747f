// Package softkey is a device that keeps passkeys, in software, for tests: it makes
// keys and signs with them as W3C Web Authentication Level 2 has it (5.8.1, 6.1,
// 6.5.1, 8.7: memory), written apart from the library that the program uses. A
// test can have it answer wrongly. It refuses nothing.
//
// This is the only file.
package softkey

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"testing"
)

// Device keeps one passkey, the last that it made.
type Device struct {
	Unsure bool   // it does not ask for its holder's code or finger
	Count  uint32 // uses so far; counted on with each answer
	Spoilt bool   // its signatures are over something else

	key        *ecdsa.PrivateKey
	id, holder []byte
	host       string
}

var b64 = base64.RawURLEncoding

// What a device is asked, as far as it matters to one that keeps one key.
type asked struct {
	Challenge string
	RPID      string `json:"rpId"`
	RP        struct{ ID string }
	User      struct{ ID string }
}

func read(t testing.TB, options []byte) (a asked) {
	t.Helper()
	if err := json.Unmarshal(options, &a); err != nil {
		t.Fatalf("what the device is asked: %v: %s", err, options)
	}
	return a
}

// Flags of authenticator data: somebody was there, and was known; a key comes with
// it.
const present, known, withKey = 1, 4, 64

// data is authenticator data without what is said of a key.
func (d *Device) data(flags byte) []byte {
	if !d.Unsure {
		flags |= known
	}
	host := sha256.Sum256([]byte(d.host))
	return binary.BigEndian.AppendUint32(append(host[:], flags|present), d.Count)
}

func client(kind, challenge, origin string) []byte {
	out, _ := json.Marshal(map[string]any{"type": kind, "challenge": challenge, "origin": origin, "crossOrigin": false}) // strings
	return out
}

// Make makes a passkey as asked on a page of an origin.
func (d *Device) Make(t testing.TB, options []byte, origin string) []byte {
	t.Helper()
	a := read(t, options)
	holder, err := b64.DecodeString(a.User.ID)
	if err == nil {
		d.key, err = ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	}
	if err != nil {
		t.Fatal(err)
	}
	d.id, d.holder, d.host = make([]byte, 32), holder, a.RP.ID
	_, _ = rand.Read(d.id) // never fails: it ends the program instead
	public, err := d.key.PublicKey.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	data := d.data(withKey)
	data = append(data, make([]byte, 16)...) // no make of device is told
	data = append(data, 0, byte(len(d.id)))
	data = append(data, d.id...)
	// The key in CBOR: kind EC2, algorithm ES256, curve P-256, x and y (RFC 9053, 7.1.1: memory).
	data = append(data, 0xa5, 0x01, 0x02, 0x03, 0x26, 0x20, 0x01, 0x21, 0x58, 0x20)
	data = append(data, public[1:33]...)
	data = append(data, 0x22, 0x58, 0x20)
	data = append(data, public[33:]...)
	object := []byte("\xa3\x63fmt\x64none\x67attStmt\xa0\x68authData\x58")
	object = append(append(object, byte(len(data))), data...)
	return d.answer(map[string]any{"clientDataJSON": client("webauthn.create", a.Challenge, origin), "attestationObject": object})
}

// Sign signs in as asked on a page of an origin.
func (d *Device) Sign(t testing.TB, options []byte, origin string) []byte {
	t.Helper()
	a := read(t, options)
	d.Count++
	said, data := client("webauthn.get", a.Challenge, origin), d.data(0)
	hash := sha256.Sum256(said)
	over := sha256.Sum256(append(append([]byte{}, data...), hash[:]...))
	if d.Spoilt {
		over[0] ^= 1
	}
	signature, err := ecdsa.SignASN1(rand.Reader, d.key, over[:])
	if err != nil {
		t.Fatal(err)
	}
	return d.answer(map[string]any{"clientDataJSON": said, "authenticatorData": data, "signature": signature, "userHandle": d.holder})
}

func (d *Device) answer(response map[string]any) []byte {
	for name, v := range response {
		if b, is := v.([]byte); is {
			response[name] = b64.EncodeToString(b)
		}
	}
	id := b64.EncodeToString(d.id)
	out, _ := json.Marshal(map[string]any{"id": id, "rawId": id, "type": "public-key", "response": response, "clientExtensionResults": map[string]any{}}) // strings
	return out
}
