package web

import (
	"net/http"
	"strings"

	"chargewright/account"
	"chargewright/job"
	"chargewright/web/page"
)

// may says whether whoever asks may do something: the one place that asks the
// table of account/role.go. In a demonstration nobody signs in, and everybody may
// do everything.
func (s *Server) may(r *http.Request, d account.Duty) bool {
	return s.Accounts == nil || who(r).Role.May(d)
}

// permitted lets only those through who may do something.
func (s *Server) permitted(d account.Duty, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !s.may(r, d) {
			s.notYours(w, r, d)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// notYours says that something is not for whoever asked, and for whom it is.
func (s *Server) notYours(w http.ResponseWriter, r *http.Request, d account.Duty) {
	whole(w, r)
	role := who(r).Role
	what := "Nothing was recorded. Your role here is " + string(role) + ", who " + role.Words() + "."
	if role.Words() == "" {
		what = "Nothing was recorded. Your role here is not one that this program knows: the owner can give you another."
	}
	var names []string
	for _, x := range d.Who() {
		names = append(names, string(x))
	}
	what += " For " + d.Words() + " ask: " + strings.Join(names, ", ") + "."
	if scripted(r) {
		refuseData(w, http.StatusForbidden, what)
		return
	}
	s.sorry(w, r, http.StatusForbidden, "This is not yours to do here", what)
}

// mays are what a page shows ways to.
func (s *Server) mays(r *http.Request) page.May {
	return page.May{
		Look: s.may(r, account.Look), Desk: s.may(r, account.Desk), Measure: s.may(r, account.Measure), Mend: s.may(r, account.Mend), Close: s.may(r, account.Close),
		Systems: s.may(r, account.Systems), Instruments: s.may(r, account.Instruments), People: s.Accounts != nil && s.may(r, account.People),
	}
}

// dutyOf is what whoever makes an entry must be allowed to do; taking it back
// wants the same.
var dutyOf = map[job.Kind]account.Duty{
	job.Took: account.Measure, job.FoundRig: account.Measure, job.CouldNot: account.Measure, job.Corrected: account.Measure,
	job.Repaired: account.Mend, job.Waits: account.Desk, job.Proved: account.Close,
	job.Identified: account.Measure, job.Reopened: account.Close,
}

func (s *Server) mayTakeBack(r *http.Request, kind job.Kind) bool {
	return s.may(r, account.Measure) && s.may(r, dutyOf[kind])
}
