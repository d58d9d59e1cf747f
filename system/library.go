package system

import (
	"embed"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"sort"
	"strings"
	"sync"

	"go.yaml.in/yaml/v4"

	"chargewright/internal/yamlread"
)

//go:embed library
var library embed.FS

// Files is the shipped library: system files, practice.yaml, procedures/ and
// practice/ with the rates of further arrangements.
func Files() fs.FS {
	sub, err := fs.Sub(library, "library")
	if err != nil {
		panic(err) // the name is a constant that fs.ValidPath accepts
	}
	return sub
}

// practiceFile is the one file of the library that is no system.
const practiceFile = "practice.yaml"

// Library returns the ids of the shipped systems, in order.
func Library() []string {
	names, _ := fs.Glob(Files(), "*.yaml") // the pattern is well formed
	var ids []string
	for _, n := range names {
		if n != practiceFile {
			ids = append(ids, strings.TrimSuffix(n, ".yaml"))
		}
	}
	sort.Strings(ids)
	return ids
}

// ByID loads a shipped system. Each call reads it anew, so that a caller may
// change what it gets.
func ByID(id string) (*System, error) {
	return Open(Files(), id+".yaml")
}

// Shipped are all the shipped systems in the order of Library, read once. Nobody changes
// one: they are for whoever looks at all of them.
func Shipped() ([]*System, error) { return shippedOnce() }

var shippedOnce = sync.OnceValues(func() (out []*System, err error) {
	for _, id := range Library() {
		s, err := ByID(id)
		if err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, nil
})

// Open reads a system file from a file system.
func Open(files fs.FS, name string) (*System, error) {
	data, err := fs.ReadFile(files, name)
	if err != nil {
		return nil, fmt.Errorf("no system file %s; the library holds %s", name, strings.Join(Library(), ", "))
	}
	s, err := Parse(name, data)
	if err != nil {
		return nil, err
	}
	if want := strings.TrimSuffix(path.Base(name), ".yaml"); s.ID != want {
		return nil, fmt.Errorf("%s: id is %s; call the file %s.yaml, or write id: %s", name, s.ID, s.ID, want)
	}
	return s, nil
}

// DefaultPractice loads the shipped practice figures.
func DefaultPractice() (*Practice, error) {
	data, err := fs.ReadFile(Files(), practiceFile)
	if err != nil {
		return nil, err
	}
	return ParsePractice(practiceFile, data)
}

// OwnPractice lists the shipped systems that have rates and orders of their own,
// by the id of the system.
func OwnPractice() []string {
	names, _ := fs.Glob(Files(), "practice/*.yaml") // the pattern is well formed
	var ids []string
	for _, n := range names {
		ids = append(ids, strings.TrimSuffix(path.Base(n), ".yaml"))
	}
	return ids
}

// basePractice is practice.yaml, read once: what others are laid over is not changed.
var basePractice = sync.OnceValues(DefaultPractice)

// PracticeFor loads the shipped practice figures for a system: its own file laid
// over practice.yaml where there is one, practice.yaml alone elsewhere.
func PracticeFor(id string) (*Practice, error) {
	if !slices.Contains(OwnPractice(), id) {
		return DefaultPractice()
	}
	base, err := basePractice()
	if err != nil {
		return nil, err
	}
	name := "practice/" + id + ".yaml"
	data, err := fs.ReadFile(Files(), name)
	if err != nil {
		return nil, err
	}
	if under := practiceUnder(data); under != "" && under != id {
		if base, err = PracticeFor(under); err != nil {
			return nil, err
		}
		own, err := Override(base, name, data)
		if err != nil {
			return nil, err
		}
		return own, dropRates(own, id)
	}
	return ForArrangement(base, name, data)
}

// dropRates takes out the rates of faults that a version of another system has not.
func dropRates(p *Practice, id string) error {
	s, err := ByID(id)
	if err != nil {
		return err
	}
	for f := range p.Rates {
		if !slices.ContainsFunc(s.Faults, func(x Fault) bool { return x.ID == f }) {
			delete(p.Rates, f)
			p.refs = slices.DeleteFunc(p.refs, func(r yamlread.Ref) bool { return r.Kind == "fault" && r.ID == f })
		}
	}
	return nil
}

// practiceUnder is the system whose practice figures a file is laid over, rates and
// orders included: over: lamp-excited. Empty where it says none.
func practiceUnder(data []byte) string {
	var head struct{ Over string }
	_ = yaml.Unmarshal(data, &head) // the reader itself reports what is wrong
	return head.Over
}
