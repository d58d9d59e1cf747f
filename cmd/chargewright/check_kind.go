package main

import (
	"slices"

	"chargewright/internal/yamlread"
	"chargewright/problem"
)

// kinds of file and the keys that tell them.
var kindKeys = map[string][]string{
	"system":    {"points", "joints", "machine", "regulator", "battery", "faults", "base", "arrangement", "wires", "loads", "params"},
	"procedure": {"where", "does", "do", "settles", "measure", "look"},
	"practice":  {"rates", "procedures", "repairs", "labour", "orders", "overhead"},
	"job":       {"system", "log", "readings", "complaint", "vehicle", "opened"},
	"figures":   {"template", "manual", "outputs", "cut-in", "field-current", "rotor", "stator", "regulated"},
	"machine":   {"poles", "winding", "stator-ohms", "inductance", "emf", "diode"},
}

// kindOf tells the kind of a file by most of its keys; "" when none is known.
func kindOf(keys []string) string {
	best, most := "", 0
	for _, kind := range []string{"figures", "machine", "system", "procedure", "practice", "job"} {
		if n := ofKind(keys, kind); n > most {
			best, most = kind, n
		}
	}
	return best
}

// ofKind counts the keys that a kind of file has.
func ofKind(keys []string, kind string) (n int) {
	for _, key := range keys {
		if slices.Contains(kindKeys[kind], key) {
			n++
		}
	}
	return n
}

// topKeys are the keys of a file's first level.
func topKeys(top yamlread.Node) (keys []string) {
	if top.IsMap() {
		for _, p := range top.Map("file").Pairs() {
			keys = append(keys, p.Key)
		}
	}
	return keys
}

// takes is the command for a kind of file.
var takes = map[string]string{
	"system": "system: and its path in a job file, or chargewright systems", "procedure": "chargewright check", "practice": "chargewright diagnose JOB --practice",
	"job": "chargewright diagnose", "figures": "chargewright fit", "machine": "chargewright machine",
}

// wanted refuses a file that has no key of the wanted kind and those of another:
// every key of it would be told as unknown.
func wanted(kind, name string, data []byte) error {
	doc, top := yamlread.Open(name, data)
	keys := topKeys(top)
	readable := doc.Err() == nil // if not, the loader tells
	if is := kindOf(keys); readable && is != "" && ofKind(keys, kind) == 0 {
		return problem.List{{File: name, Line: 1, Col: 1, What: "this is a " + is + " file, and a " + kind + " file is wanted", Instead: takes[is] + " for this one"}}
	}
	return nil
}
