package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/signal"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"

	"chargewright/account"
	"chargewright/journal"
	"chargewright/web"
)

// serveCmd serves the workshop's pages.
type serveCmd struct {
	Data      string   `help:"Directory that holds the workshop's database, and its certificate (chargewright-data)." placeholder:"DIR"`
	Database  string   `help:"Address of a PostgreSQL database instead, which several servers may share, such as postgres://user@host/workshop (or in CHARGEWRIGHT_DATABASE)." placeholder:"URL"`
	Listen    string   `help:"Address to listen on." default:"127.0.0.1:8412" placeholder:"ADDR"`
	Demo      bool     `help:"A made-up workshop with a dozen jobs; nobody signs in, and nothing is kept."`
	Workshop  string   `help:"The workshop's name, at the head of lists and reports." default:"Workshop"`
	OwnerLink bool     `name:"owner-link" help:"Print a new one-time link that sets the owner's name and password."`
	TLS       bool     `name:"behind-tls" help:"A proxy in front serves TLS: cookies are sent over TLS only."`
	Origin    []string `help:"Address that a proxy in front serves the pages under, such as https://shop.example." placeholder:"URL"`
	OwnCert   bool     `name:"own-cert" help:"Serve TLS with a certificate of the program's own, made at the first start; its fingerprint is printed."`
	TLSCert   string   `name:"tls-cert" help:"Serve TLS with the certificate in this file (PEM); it is read anew when it changes." placeholder:"FILE"`
	TLSKey    string   `name:"tls-key" help:"The certificate's key (PEM)." placeholder:"FILE"`
	InClear   bool     `name:"in-the-clear" help:"Listen for others without TLS all the same, where nobody else is in the network."`
	Metrics   string   `help:"Address on which /metrics answers without signing in, such as 127.0.0.1:9412." placeholder:"ADDR"`
	Log       string   `help:"How the log is written: text or json." enum:"text,json" default:"text" placeholder:"FORM"`
}

// Run implements the command.
func (c *serveCmd) Run(e *env) error {
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGINT, syscall.SIGTERM)
	defer stop()
	if os.Getenv("GOMAXPROCS") == "" {
		runtime.GOMAXPROCS(runtime.GOMAXPROCS(0) + web.Busy)
	}
	return c.serve(ctx, e, nil)
}

// patience is how long a page may take before another says that it is being
// worked on: under the second after which people wonder (common practice).
const patience = 700 * time.Millisecond

// Times that a connection may take. A live stream sets its own.
const (
	readFor   = 15 * time.Second
	writeFor  = 60 * time.Second
	idleFor   = 2 * time.Minute
	endWithin = 10 * time.Second
)

// serve serves until ctx ends; ready, when given, is told the address.
func (c *serveCmd) serve(ctx context.Context, e *env, ready chan<- string) (err error) {
	listener, err := (&net.ListenConfig{}).Listen(ctx, "tcp", c.Listen)
	if err != nil {
		return fmt.Errorf("%s cannot be listened on: %w", c.Listen, err)
	}
	defer func() { _ = listener.Close() }() // Shutdown has closed it
	if err := c.guarded(listener.Addr()); err != nil {
		return err
	}
	log := logger(e, c.Log)
	secure, err := c.certificate(e, log, listener.Addr())
	if err != nil {
		return err
	}
	shop, err := c.open(ctx, e, log, listener.Addr())
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, shop.close()) }()
	if err := serveMetrics(ctx, shop, c.Metrics, log); err != nil {
		return err
	}
	server := &http.Server{
		Handler: shop.pages, ReadHeaderTimeout: readFor, ReadTimeout: readFor, WriteTimeout: writeFor, IdleTimeout: idleFor,
		MaxHeaderBytes: 32 << 10, ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelWarn), TLSConfig: secure,
	}
	server.RegisterOnShutdown(shop.pages.EndLive)
	done := make(chan error, 1)
	go func() { done <- c.answer(server, listener) }()
	log.Info("serving", "address", c.scheme()+listener.Addr().String(), "database", shop.name, "version", version)
	tellSystem(log, "READY=1")
	if ready != nil {
		ready <- listener.Addr().String()
	}
	select {
	case err := <-done:
		return fmt.Errorf("the pages are not served any more: %w", err)
	case <-ctx.Done():
	}
	log.Info("stopping")
	tellSystem(log, "STOPPING=1")
	within, cancel := context.WithTimeout(context.WithoutCancel(ctx), endWithin)
	defer cancel()
	if err := server.Shutdown(within); err != nil {
		return fmt.Errorf("not every request could be answered to its end: %w", err)
	}
	return nil
}

// answer serves, over TLS where there is a certificate.
func (c *serveCmd) answer(server *http.Server, l net.Listener) error {
	if server.TLSConfig != nil {
		return server.ServeTLS(l, "", "")
	}
	return server.Serve(l)
}

// loopback says whether an address is this machine's own.
func loopback(a net.Addr) bool {
	t, ok := a.(*net.TCPAddr)
	return ok && t.IP.IsLoopback()
}

// open opens the database and makes the pages on it.
func (c *serveCmd) open(ctx context.Context, e *env, log *slog.Logger, at net.Addr) (s *shop, err error) {
	s = &shop{}
	defer func() {
		if err != nil {
			err = errors.Join(err, s.close())
		}
	}()
	place, err := c.place(s)
	if err != nil {
		return s, err
	}
	x, err := openBooks(ctx, s, place, log)
	if err != nil {
		return s, err
	}
	if !c.Demo && x.db.Begun() { // a slip in --data would else look like a workshop that lost its jobs
		_, _ = fmt.Fprintf(e.stderr, "No workshop was in %s: a new one, without jobs, was begun there.\n", cmp.Or(c.dir(), s.name))
	}
	config := x.config(log)
	config.AtOnce, config.Workshop, config.Secure, config.Origins, config.Hosts = web.TasksAtOnce, c.Workshop, c.secure(), c.Origin, c.hosts()
	config.Patience, config.Warm, config.Held = patience, !e.cold, e.held
	if c.Demo {
		config.Demo, config.Workshop, config.Accounts = demoNote, demoWorkshop, nil
		if config.Ready, err = makeUp(ctx, x.book, x.shelf, x.tick); err != nil {
			return s, fmt.Errorf("the made-up workshop could not be made: %w", err)
		}
		_, _ = fmt.Fprintf(e.stderr, "%s Nobody has to sign in, so it answers on this machine only.\n", demoNote)
	} else if err := c.ownerLink(ctx, e, config.Accounts, at); err != nil {
		return s, err
	}
	if s.pages, err = web.New(config); err != nil {
		return s, err
	}
	s.ends = append(s.ends, func() error { s.pages.Close(); return nil }, follow(x.book, log))
	return s, nil
}

// troubleEvery keeps a database that is away from filling the log.
const troubleEvery = 30 * time.Second

// follow hears of what other servers and programs record; what is returned ends
// it.
func follow(book *journal.Store, log *slog.Logger) (end func() error) {
	ctx, cancel := context.WithCancel(context.Background())
	var done sync.WaitGroup
	done.Go(func() {
		var said time.Time
		book.Follow(ctx, func(err error) {
			if now := time.Now(); now.Sub(said) > troubleEvery {
				log.Error("what others record is not heard of now", "why", err)
				said = now
			}
		})
	})
	return func() error { cancel(); done.Wait(); return nil }
}

// dir is the data directory; "" where an address was given instead.
func (c *serveCmd) dir() string {
	if c.Data == "" && c.Database == "" && os.Getenv(databaseVariable) == "" {
		return defaultData
	}
	return c.Data
}

const defaultData = "chargewright-data"

// place is where the workshop's database is; a demonstration has one that is not
// kept. Beside a database's address the directory is for the certificate.
func (c *serveCmd) place(s *shop) (string, error) {
	switch {
	case c.Demo && c.Database != "":
		return "", usage("--demo keeps nothing, so it has no use for --database: leave out one of them")
	case c.Demo:
		return s.tempDir()
	case c.Database != "":
		return where{Database: c.Database}.place()
	}
	return where{Data: c.dir()}.place()
}

// ownerLink prints the owner's one-time link where there is no owner yet, or
// when one is asked for.
func (c *serveCmd) ownerLink(ctx context.Context, e *env, a *account.Accounts, at net.Addr) error {
	has, err := a.HasOwner(ctx)
	if err != nil || has && !c.OwnerLink {
		return err
	}
	token, expires, err := a.OwnerLink(ctx)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(e.stderr, "Owner, good once and until %s:\n  %s/owner/%s\n", expires.Format("15:04"), c.base(at), token)
	return err
}

// hosts are the names that the program goes by: this machine's, and those that a
// proxy in front serves under. Where a proxy's name was not given it cannot be
// known, and any will do; a demonstration, which asks nobody to sign in, is never
// that free.
func (c *serveCmd) hosts() []string {
	if c.TLS && len(c.Origin) == 0 && !c.Demo {
		return nil
	}
	out := []string{"localhost"}
	if name, err := os.Hostname(); err == nil {
		name = strings.ToLower(name)
		short, _, _ := strings.Cut(name, ".")
		out = append(out, name, short, short+".local")
	}
	for _, o := range c.Origin {
		if u, err := url.Parse(o); err == nil {
			out = append(out, strings.ToLower(u.Hostname()))
		}
	}
	return out
}

// base is where the pages are reached: under the proxy's address when there is
// one, so that a link that is a secret is not opened in the clear.
func (c *serveCmd) base(at net.Addr) string {
	if len(c.Origin) > 0 {
		return strings.TrimSuffix(c.Origin[0], "/")
	}
	if t, ok := at.(*net.TCPAddr); ok && t.IP.IsUnspecified() { // every address of this machine: its name stands for them
		if host, err := os.Hostname(); err == nil {
			return c.scheme() + net.JoinHostPort(host, strconv.Itoa(t.Port))
		}
	}
	return c.scheme() + at.String()
}
