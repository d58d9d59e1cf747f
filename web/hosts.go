package web

import (
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
)

// hosted answers only under the names that the program goes by. A page from
// elsewhere can have its own name point at this machine; the browser then takes
// it for the same site, and it could read and send everything that asks for no
// sign-in (DNS rebinding). An address in figures cannot be made to point
// elsewhere, so those are let through.
func (s *Server) hosted(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if s.Hosts == nil || r.URL.Path == "/healthz" || slices.Contains(s.Hosts, hostName(r.Host)) || inFigures(r.Host) {
			next.ServeHTTP(w, r)
			return
		}
		http.Error(w, "This program does not go by that name. Open it under the address that it printed when it started; for another name start it with --origin.", http.StatusMisdirectedRequest)
	})
}

// hostName is the name in a Host header, without its port.
func hostName(host string) string {
	if name, _, err := net.SplitHostPort(host); err == nil {
		host = name
	}
	return strings.ToLower(strings.TrimSuffix(host, "."))
}

func inFigures(host string) bool {
	_, err := netip.ParseAddr(strings.Trim(hostName(host), "[]"))
	return err == nil
}
