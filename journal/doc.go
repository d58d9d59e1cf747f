// Package journal keeps what happened, for good: events appended to streams
// (one a job), each hashed over the bytes that are stored and over the event
// before it, all of them on the disk before Append returns.
//
// It refuses to change or delete an event, an id that was used for something
// else, an event that was recorded without knowing the ones before it, an
// opening whose system file is not kept here, and bytes that do not have the
// hash they are given under. It never hands out an event whose bytes are not
// those that were hashed. Names and plates stand in a table beside the chain, so
// that they can be erased without breaking it.
//
// It draws nothing from an event but a line for the list of jobs (line.go);
// what events come to is job.Fold's business.
//
// docs/journal-format.md says how it is stored and hashed. Open append.go first,
// then chain.go and verify.go.
package journal
