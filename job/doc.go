// Package job is the record of work on one vehicle: an opening, then readings,
// repairs, corrections and what was found, in order. A job file or the page
// gives events; Fold is the only way from events to a Job, and the same events
// always give the same Job.
//
// It refuses a file with any problem and reports all of them with line and
// column. What a file leaves out and the fold takes for granted is written down
// as plain sentences in Job.Assumed. It draws no conclusions: that is diagnosis.
//
// Open event.go for what can happen, file.go for the job file, fold.go for how
// events become a Job.
package job
