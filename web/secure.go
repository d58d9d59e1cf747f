package web

import (
	"compress/gzip"
	"context"
	"errors"
	"io"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"time"

	"chargewright/account"
)

// policy: nothing from elsewhere, no inline script and no inline style.
const policy = "default-src 'none'; style-src 'self'; font-src 'self'; img-src 'self'; script-src 'self'; connect-src 'self'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// Bodies of requests. A system file is the largest thing that is posted.
const (
	mostBody   = 64 << 10
	mostSystem = 1 << 20
)

func headers(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), microphone=(), geolocation=()")
		h.Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}

// bounded keeps bodies small.
func bounded(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		most := int64(mostBody)
		if strings.HasPrefix(r.URL.Path, "/systems") {
			most = mostSystem
		}
		r.Body = http.MaxBytesReader(w, r.Body, most)
		next.ServeHTTP(w, r)
	})
}

// pack compresses pages; live streams are flushed as they come and are not.
func pack(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") || strings.HasSuffix(r.URL.Path, "/live") || strings.HasPrefix(r.URL.Path, "/static/") {
			next.ServeHTTP(w, r)
			return
		}
		p := &packing{ResponseWriter: w}
		defer p.close()
		next.ServeHTTP(p, r)
	})
}

// packers are writers that were used before: each holds most of a megabyte.
// Level 4 takes half the time of the usual 6, 5 ms of a job's page, and makes it a
// thirtieth larger (measured).
var packers = sync.Pool{New: func() any {
	z, _ := gzip.NewWriterLevel(io.Discard, 4) // the level is known
	return z
}}

type packing struct {
	http.ResponseWriter
	z       *gzip.Writer
	decided bool
}

func (p *packing) WriteHeader(code int) {
	p.decide(code)
	p.ResponseWriter.WriteHeader(code)
}

func (p *packing) decide(code int) {
	if p.decided {
		return
	}
	p.decided = true
	h := p.Header()
	text := strings.HasPrefix(h.Get("Content-Type"), "text/") || strings.HasPrefix(h.Get("Content-Type"), "application/json")
	if text && code != http.StatusNoContent && code != http.StatusNotModified && h.Get("Content-Encoding") == "" {
		h.Set("Content-Encoding", "gzip")
		h.Add("Vary", "Accept-Encoding")
		h.Del("Content-Length")
		p.z, _ = packers.Get().(*gzip.Writer)
		p.z.Reset(p.ResponseWriter)
	}
}

func (p *packing) Write(b []byte) (int, error) {
	if !p.decided {
		if p.Header().Get("Content-Type") == "" {
			p.Header().Set("Content-Type", http.DetectContentType(b))
		}
		p.decide(http.StatusOK)
	}
	if p.z != nil {
		return p.z.Write(b)
	}
	return p.ResponseWriter.Write(b)
}

func (p *packing) close() {
	if p.z != nil {
		_ = p.z.Close() // whoever has gone away needs no answer
		packers.Put(p.z)
	}
}

// Unwrap lets a ResponseController reach what is underneath.
func (p *packing) Unwrap() http.ResponseWriter { return p.ResponseWriter }

// caught answers a panic with a page instead of a broken connection, and logs it.
func (s *Server) caught(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			switch x := recover(); x {
			case nil:
			case http.ErrAbortHandler:
				panic(x)
			default:
				s.Log.Error("a page broke off", "method", r.Method, "path", logPath(r), "panic", x)
				s.sorry(w, r, http.StatusInternalServerError, "This page could not be made", "Nothing was recorded by it. Go back and try once more; what happened is in the server's log.")
			}
		}()
		next.ServeHTTP(w, r)
	})
}

// logPath is the path of a request as the log has it. A one-time link is a
// secret until it is used, so its token stays out.
func logPath(r *http.Request) string {
	for _, secret := range []string{"/owner/", "/join/"} {
		if strings.HasPrefix(r.URL.Path, secret) {
			return secret + "…"
		}
	}
	return r.URL.Path
}

// logged writes one line for each request that changes something or fails.
func (s *Server) logged(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		began := s.Now()
		c := &counting{ResponseWriter: w, code: http.StatusOK}
		next.ServeHTTP(c, r)
		s.measures.done(r, c.code, s.Now().Sub(began))
		if r.Method != http.MethodGet || c.code >= http.StatusInternalServerError {
			s.Log.Info("request", "method", r.Method, "path", logPath(r), "status", c.code, "took", s.Now().Sub(began).Round(time.Millisecond).String())
		}
	})
}

type counting struct {
	http.ResponseWriter
	code int
}

func (c *counting) WriteHeader(code int) {
	c.code = code
	c.ResponseWriter.WriteHeader(code)
}

func (c *counting) Unwrap() http.ResponseWriter { return c.ResponseWriter }

// sessionCookie is the cookie of a session. Over TLS it has the prefix that keeps
// a neighbouring host from planting one (RFC 6265bis, 4.1.3.2: memory).
func (s *Server) sessionCookie() string {
	if s.Secure {
		return "__Host-chargewright-session"
	}
	return "chargewright-session"
}

// deviceCookie is the cookie of a device that has signed in before: it opens
// nothing, and keeps others from using up this device's sign-ins.
func (s *Server) deviceCookie() string {
	if s.Secure {
		return "__Host-chargewright-device"
	}
	return "chargewright-device"
}

type whoKey struct{}

// who is signed in; the zero account in a demonstration.
func who(r *http.Request) account.Account {
	a, _ := r.Context().Value(whoKey{}).(account.Account)
	return a
}

// signedIn lets only those through who are signed in.
func (s *Server) signedIn(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if s.Accounts == nil {
			next.ServeHTTP(w, r)
			return
		}
		session, err := s.Accounts.Session(r.Context(), cookie(r, s.sessionCookie()))
		switch {
		case errors.Is(err, account.ErrSignedOut):
			if scripted(r) {
				refuseData(w, http.StatusUnauthorized, "The session has ended: sign in again.")
				return
			}
			to := "/sign-in"
			if r.Method == http.MethodGet {
				to += "?to=" + url.QueryEscape(r.URL.RequestURI())
			}
			if r.Header.Get("HX-Request") != "" {
				w.Header().Set("HX-Redirect", to)
				w.WriteHeader(http.StatusUnauthorized)
				return
			}
			http.Redirect(w, r, to, http.StatusSeeOther)
		case err != nil:
			s.broken(w, r, err)
		default:
			next.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), whoKey{}, session.Account)))
		}
	})
}

func (s *Server) setCookie(w http.ResponseWriter, name, value string, age time.Duration) {
	http.SetCookie(w, &http.Cookie{
		Name: name, Value: value, Path: "/", MaxAge: int(age.Seconds()), HttpOnly: true, Secure: s.Secure, SameSite: http.SameSiteLaxMode,
	})
}
