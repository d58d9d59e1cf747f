// Package report makes the customer's sheet of a job: what was wrong, what was
// done, the readings before and after, the proof, time and cost, who signed. The
// same data make the page and the PDF, and the data are what a signature keeps,
// so that a sheet can be made again as it was signed.
//
// It computes nothing of its own: figures come finished from advice. It holds no
// name and no plate; those are given when a sheet is made. The same sheet is the
// same bytes.
//
// Open report.go first, pdf.go for the paper.
package report
