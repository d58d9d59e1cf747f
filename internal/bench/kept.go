package main

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
)

// kept are outcomes of finished cases in a file, one line each, so that a long
// run that was cut short goes on where it stopped. The file's name carries the
// hash of the program that played them: another version begins anew.
type kept struct {
	mu   sync.Mutex
	file *os.File
	by   map[caseKey]outcome
}

// caseKey is what an outcome follows from, beside the program and the arrangement.
type caseKey struct {
	Part   string `json:"part"` // hidden, stress
	Seed   uint64 `json:"seed"`
	Case   int    `json:"case"`
	Policy string `json:"policy"`
	Stops  string `json:"stops"` // shares at which the ordered policies stop
}

// keptLine is a line of the file.
type keptLine struct {
	caseKey
	Minutes    float64      `json:"minutes"`
	Floor      float64      `json:"floor"`
	Readings   int          `json:"readings"`
	Moves      int          `json:"moves"`
	First      bool         `json:"first"`
	WrongParts int          `json:"wrong_parts"`
	Confident  bool         `json:"confident_wrong"`
	GaveUp     bool         `json:"gave_up"`
	StopShare  float64      `json:"stop_share"`
	Timed      int          `json:"timed"`
	Unsettled  int          `json:"unsettled"`
	Stated     []keptStated `json:"stated"`
}

type keptStated struct {
	P     float64 `json:"p"`
	Right bool    `json:"right"`
	After int     `json:"after"`
}

// keep opens the outcomes of an arrangement in a folder.
func keep(folder, system string) (*kept, error) {
	hash, err := ownHash()
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return nil, err
	}
	f, err := os.OpenFile(filepath.Join(folder, fmt.Sprintf("cases-%s-%s.jsonl", system, hash)), os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, err
	}
	k := &kept{file: f, by: map[caseKey]outcome{}}
	if err := k.read(); err != nil {
		return nil, fmt.Errorf("%s: %w", f.Name(), err)
	}
	return k, nil
}

// read takes up whole lines; one that was cut short in the writing is overwritten.
func (k *kept) read() error {
	in, whole := bufio.NewReader(k.file), int64(0)
	for n := 1; ; n++ {
		line, err := in.ReadBytes('\n')
		if errors.Is(err, io.EOF) {
			_, err = k.file.Seek(whole, io.SeekStart)
			return err
		}
		if err != nil {
			return err
		}
		var l keptLine
		dec := json.NewDecoder(bytes.NewReader(line))
		dec.DisallowUnknownFields()
		if err := dec.Decode(&l); err != nil {
			return fmt.Errorf("line %d: %w: delete the file to begin anew", n, err)
		}
		whole += int64(len(line))
		k.by[l.caseKey] = l.outcome()
	}
}

func (l *keptLine) outcome() outcome {
	o := outcome{
		minutes: l.Minutes, floor: l.Floor, readings: l.Readings, moves: l.Moves, first: l.First,
		wrongParts: l.WrongParts, confident: l.Confident, gaveUp: l.GaveUp, stopShare: l.StopShare,
		timed: l.Timed, unsettled: l.Unsettled,
	}
	for _, s := range l.Stated {
		o.stated = append(o.stated, stated{p: s.P, right: s.Right, after: s.After})
	}
	return o
}

// get is the outcome of a case that was played before.
func (k *kept) get(c caseKey) (outcome, bool) {
	if k == nil {
		return outcome{}, false
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	o, ok := k.by[c]
	return o, ok
}

// put writes an outcome down.
func (k *kept) put(c caseKey, o outcome) error {
	if k == nil {
		return nil
	}
	l := keptLine{
		caseKey: c, Minutes: o.minutes, Floor: o.floor, Readings: o.readings, Moves: o.moves, First: o.first,
		WrongParts: o.wrongParts, Confident: o.confident, GaveUp: o.gaveUp, StopShare: o.stopShare,
		Timed: o.timed, Unsettled: o.unsettled,
	}
	for _, s := range o.stated {
		l.Stated = append(l.Stated, keptStated{P: s.p, Right: s.right, After: s.after})
	}
	line, err := json.Marshal(l)
	if err != nil {
		return err
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	k.by[c] = o
	_, err = k.file.Write(append(line, '\n'))
	return err
}

func (k *kept) close() error {
	if k == nil {
		return nil
	}
	return k.file.Close()
}

// ownHash is the beginning of the hash of the running program.
func ownHash() (string, error) {
	name, err := os.Executable()
	if err != nil {
		return "", err
	}
	f, err := os.Open(name)
	if err != nil {
		return "", err
	}
	defer func() { _ = f.Close() }()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil))[:12], nil
}
