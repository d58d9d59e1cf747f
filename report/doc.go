// Package report makes the papers of a job: the customer's sheet, the
// technician's record with everything that happened, the job card to take to the
// vehicle, and the record as JSON and CSV. Each is data first, with a JSON form,
// and a PDF made from the data, for A4 or Letter; pages show the same data. The
// SHA-256 of the JSON is the content hash on every page.
//
// It computes nothing of its own: figures come finished from advice. It holds no
// name and no plate; those are given when a paper is made. It has no clock: the
// same job gives the same bytes. It refuses what job and advice refuse.
//
// Open case.go for what a paper is made from; then report.go and pdf.go for the
// customer's sheet, record.go and record_of.go for the record, card.go and
// card_of.go for the card. paper.go lays rows on pages. docs/reports.md says what
// stands where.
package report
