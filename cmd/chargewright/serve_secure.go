package main

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"math/big"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"
)

// guarded refuses to listen where passwords and readings could be read, or
// where nobody is asked who he is.
func (c *serveCmd) guarded(at net.Addr) error {
	if (c.TLSCert == "") != (c.TLSKey == "") {
		return usage("a certificate and its key belong together: give both --tls-cert and --tls-key")
	}
	if c.OwnCert && c.TLSCert != "" {
		return usage("both --own-cert and --tls-cert are given: leave out one of them")
	}
	switch {
	case loopback(at):
		return nil
	case c.Demo:
		return usage("--demo asks nobody to sign in, so it listens on this machine only: leave out --listen, or write --listen 127.0.0.1:8412")
	case !c.secure() && !c.InClear:
		return usage("on %s passwords and readings would cross the network in the clear: serve TLS with --own-cert, or with --tls-cert and --tls-key; "+
			"or put a proxy with TLS in front and say so with --behind-tls; or say --in-the-clear where nobody else is in the network", at)
	}
	return nil
}

// secure says that pages reach people over TLS alone.
func (c *serveCmd) secure() bool { return c.TLS || c.ownTLS() }

// ownTLS says that this program itself serves TLS.
func (c *serveCmd) ownTLS() bool { return c.OwnCert || c.TLSCert != "" }

func (c *serveCmd) scheme() string {
	if c.ownTLS() {
		return "https://"
	}
	return "http://"
}

// certificate is what TLS is served with; nil where none is.
func (c *serveCmd) certificate(e *env, log *slog.Logger, at net.Addr) (*tls.Config, error) {
	if !c.ownTLS() {
		if c.InClear && !c.secure() && !loopback(at) {
			log.Warn("passwords and readings cross the network in the clear", "address", at.String())
		}
		return nil, nil
	}
	pair := &pair{cert: c.TLSCert, key: c.TLSKey}
	if c.OwnCert {
		dir := c.Data
		if dir == "" {
			dir = defaultData
		}
		pair.cert, pair.key = filepath.Join(dir, ownCertFile), filepath.Join(dir, ownKeyFile)
		if err := makeOwn(pair, time.Now(), c.names(at)); err != nil {
			return nil, err
		}
	}
	got, err := pair.get(nil)
	if err != nil {
		return nil, err
	}
	if c.OwnCert {
		_, _ = fmt.Fprintf(e.stderr, "Certificate of this program's own in %s; devices ask once whether to trust it. Its SHA-256 fingerprint:\n  %s\n", pair.cert, fingerprint(got))
	}
	return &tls.Config{GetCertificate: pair.get}, nil
}

// names are those that a certificate is made for: this machine's, and those
// that pages are served under.
func (c *serveCmd) names(at net.Addr) (names []string) {
	names = []string{"localhost", "127.0.0.1", "::1"}
	if host, err := os.Hostname(); err == nil {
		names = append(names, strings.ToLower(host))
		if !strings.Contains(host, ".") {
			names = append(names, strings.ToLower(host)+".local")
		}
	}
	if t, ok := at.(*net.TCPAddr); ok && !t.IP.IsUnspecified() {
		names = append(names, t.IP.String())
	}
	if all, err := net.InterfaceAddrs(); err == nil {
		for _, a := range all {
			if n, ok := a.(*net.IPNet); ok && n.IP.IsGlobalUnicast() {
				names = append(names, n.IP.String())
			}
		}
	}
	for _, o := range c.Origin {
		if u, err := url.Parse(o); err == nil && u.Hostname() != "" {
			names = append(names, u.Hostname())
		}
	}
	return names
}

// pair is a certificate with its key, read anew when its file changes: whoever
// renews it need not stop the program.
type pair struct {
	cert, key string
	mu        sync.Mutex
	changed   time.Time
	got       *tls.Certificate
}

func (p *pair) get(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	info, err := os.Stat(p.cert)
	if err == nil && p.got != nil && info.ModTime().Equal(p.changed) {
		return p.got, nil
	}
	got, err := tls.LoadX509KeyPair(p.cert, p.key)
	switch {
	case err == nil:
		p.got, p.changed = &got, info.ModTime()
	case p.got == nil:
		return nil, fmt.Errorf("TLS cannot be served with %s and %s: %w", p.cert, p.key, err)
	} // half written, or gone: the one before serves on
	return p.got, nil
}

func fingerprint(c *tls.Certificate) string {
	sum := sha256.Sum256(c.Certificate[0])
	return strings.ToUpper(strings.ReplaceAll(fmt.Sprintf("% x", sum[:]), " ", ":"))
}

// The program's own certificate. Browsers take none that is good for longer than
// 825 days (common practice of their makers: memory).
const (
	ownCertFile = "tls-cert.pem"
	ownKeyFile  = "tls-key.pem"
	ownGoodFor  = 825 * 24 * time.Hour
	ownRenewed  = 30 * 24 * time.Hour // before it runs out
)

// makeOwn makes a certificate where none is, or where it runs out soon.
func makeOwn(p *pair, now time.Time, names []string) error {
	_, errCert := os.Stat(p.cert)
	_, errKey := os.Stat(p.key)
	if errCert == nil && errKey == nil {
		if got, err := tls.LoadX509KeyPair(p.cert, p.key); err != nil {
			return fmt.Errorf("the program's own certificate in %s cannot be used (%w): take it and %s away, and a new one is made", p.cert, err, p.key)
		} else if now.Before(got.Leaf.NotAfter.Add(-ownRenewed)) {
			return nil
		}
	} else if !errors.Is(errCert, fs.ErrNotExist) || !errors.Is(errKey, fs.ErrNotExist) {
		return fmt.Errorf("of %s and %s only one is there, or can be read: take it away, and new ones are made", p.cert, p.key)
	}
	cert, key, err := selfSigned(now, names)
	if err != nil {
		return fmt.Errorf("a certificate cannot be made: %w", err)
	}
	if err := os.MkdirAll(filepath.Dir(p.cert), 0o700); err != nil {
		return fmt.Errorf("the data directory cannot be made: %w", err)
	}
	return errors.Join(os.WriteFile(p.key, key, 0o600), os.WriteFile(p.cert, cert, 0o600))
}

func selfSigned(now time.Time, names []string) (cert, key []byte, err error) {
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, nil, err
	}
	number, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 120))
	if err != nil {
		return nil, nil, err
	}
	t := &x509.Certificate{
		SerialNumber: number, Subject: pkix.Name{CommonName: "chargewright"}, NotBefore: now.Add(-time.Hour), NotAfter: now.Add(ownGoodFor),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, BasicConstraintsValid: true,
	}
	for _, name := range names {
		if ip := net.ParseIP(name); ip != nil {
			t.IPAddresses = append(t.IPAddresses, ip)
		} else {
			t.DNSNames = append(t.DNSNames, name)
		}
	}
	der, err := x509.CreateCertificate(rand.Reader, t, t, &private.PublicKey, private)
	if err != nil {
		return nil, nil, err
	}
	secret, err := x509.MarshalPKCS8PrivateKey(private)
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret}), err
}
