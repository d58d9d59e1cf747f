// Package web is the workshop's pages: jobs, intake, the job with its next step,
// hook-up, drawing and entry, the record, the report, the systems. It is plain
// HTTP: every page works without script. What script adds stands in static/, a file
// for each thing: keys and preview (app.js), readings that wait (offline.js,
// worker.js), an answer in the place of a page (inplace.js), passkeys.
//
// A page does no arithmetic. Every figure, share, position and verdict comes
// from advice, every picture from drawing, every sheet from report; what a page
// changes is an event in the journal, with the id that the form carried and the
// last event that the form knew of. What a form cannot mean is answered with
// every problem at its field and nothing recorded.
//
// It refuses whoever is not signed in (but for the sign-in itself, the owner's
// one-time link and /healthz), forms from other origins, names that the program
// does not go by, and requests that are too large. Nothing is loaded from
// elsewhere.
//
// Open routes.go first, then work.go for how a job is opened and added to,
// answer.go for how a form is answered, late.go for pages that take long, and
// page/ for what is shown.
package web
