package main

import (
	"errors"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"

	"chargewright/fit"
	"chargewright/internal/yamlread"
	"chargewright/job"
	"chargewright/machine"
	"chargewright/prediction"
	"chargewright/problem"
	"chargewright/question"
	"chargewright/system"
)

type checkCmd struct {
	Files  []string `arg:"" help:"System, procedure, practice, job, figures and machine files, - is standard input. Which is which is told by their keys." placeholder:"FILE"`
	JSON   bool     `name:"json" help:"Print JSON instead of text."`
	Schema bool     `help:"Hold them against their JSON schemas too."`
	Fix    bool     `help:"Write the ids of readings that have none into job files."`
}

// Run reports every problem of every file.
func (c *checkCmd) Run(e *env) error {
	k, err := newChecker(e)
	if err != nil {
		return err
	}
	k.schema = c.Schema
	if c.Fix && slices.Contains(c.Files, stdin) {
		return usage("--fix with -: ids are written into files, name the file")
	}
	for _, name := range c.Files {
		k.open(name)
	}
	k.run()
	if c.Fix {
		for _, f := range k.files {
			if f.kind == "job" && len(f.problems) == 0 {
				k.fix(f)
			}
		}
	}
	var all problem.List
	for _, f := range k.files {
		f.problems.Sort()
		all = append(all, f.problems...)
	}
	if !c.JSON {
		t := &text{colour: e.colour}
		for _, f := range k.files {
			f.print(t)
		}
		if err := t.to(e.stdout); err != nil {
			return err
		}
		return all.Err()
	}
	if err := printJSON(e.stdout, k.out(len(all))); err != nil {
		return err
	}
	if len(all) > 0 {
		return fmt.Errorf("%s", plural(len(all), "problem", "problems"))
	}
	return nil
}

// checkedFile is one file with what was found.
type checkedFile struct {
	name, kind string
	data       []byte
	problems   problem.List
	assumed    []string // what a job file leaves out and is taken for granted
	ids        []string // written by --fix
	left       []string // what --fix could not do

	sys  *system.System
	proc *question.Procedure
}

// add notes the problems in err; anything but a list is one problem of the file.
func (f *checkedFile) add(err error) {
	var list problem.List
	switch {
	case err == nil:
	case errors.As(err, &list):
		f.problems = append(f.problems, list...)
	default:
		f.problems.Add(problem.Problem{File: f.name, What: err.Error()})
	}
}

// checker holds files against each other and the library.
type checker struct {
	e         *env
	files     []*checkedFile
	catalogue question.Catalogue
	practice  *system.Practice
	own       map[string]func() *system.Practice // of arrangements with rates of their own, by system id
	schema    bool
}

// practiceOf is the practice figures for a system.
func (k *checker) practiceOf(s *system.System) *system.Practice {
	return job.Shelf{Practice: k.practice, Own: k.own}.PracticeOf(s)
}

func newChecker(e *env) (*checker, error) {
	k := &checker{e: e}
	var err error
	if k.catalogue, err = question.Library(); err != nil {
		return nil, err
	}
	data, err := fs.ReadFile(system.Files(), "practice.yaml")
	if err != nil {
		return nil, err
	}
	// Under a name that no given file has: problems are told by file.
	if k.practice, err = system.ParsePractice("the shipped practice.yaml", data); err != nil {
		return nil, err
	}
	shelf, err := job.Library()
	k.own = shelf.Own
	return k, err
}

// open reads a file and finds its kind.
func (k *checker) open(name string) {
	name, data, err := k.e.take(name)
	f := &checkedFile{name: name}
	k.files = append(k.files, f)
	if err != nil {
		f.problems.Add(problem.Problem{What: err.Error()}) // which names the file
		return
	}
	f.data = data
	doc, top := yamlread.Open(name, data)
	if err := doc.Err(); err != nil {
		f.add(err)
		return
	}
	if f.kind = kindOf(topKeys(top)); f.kind == "" {
		f.problems.Add(problem.Problem{
			File: name, Line: 1, Col: 1, What: "the keys do not tell what kind of file this is",
			Instead: "system: points, joints, machine; procedure: does, do, settles; practice: rates, repairs; job: system, log; figures: template, manual, outputs",
		})
	}
}

// run reads every file: practice and procedures first, since the others may
// mention what they hold.
func (k *checker) run() {
	for _, f := range k.files {
		switch f.kind {
		case "practice":
			k.lay(f)
		case "procedure":
			p, err := question.Parse(f.name, f.data)
			if f.add(err); err == nil {
				f.proc = p
				k.catalogue[p.ID] = p
			}
		case "system":
			k.system(f)
		case "figures":
			_, err := fit.Parse(f.name, f.data, func(id string) (*system.System, error) { return openSystem(k.e, id) })
			f.add(err)
		case "machine":
			_, err := machine.ParseDescription(f.name, f.data)
			f.add(err)
		}
	}
	k.mentions()
	for _, f := range k.files {
		if f.kind == "job" {
			k.job(f)
		}
		if k.schema && f.kind != "" {
			f.problems = append(f.problems, schemaProblems(f)...)
		}
	}
}

// lay lays a practice file over all that is shipped.
func (k *checker) lay(f *checkedFile) {
	p, err := system.Override(k.practice, f.name, f.data)
	if f.add(err); err != nil {
		return
	}
	k.practice = p
	for id, base := range k.own {
		if p, err := system.Override(base(), f.name, f.data); err == nil { // what is wrong with the file has been said
			k.own[id] = func() *system.Practice { return p }
		}
	}
}

func (k *checker) system(f *checkedFile) {
	s, err := system.Parse(f.name, f.data)
	if f.add(err); err != nil {
		return
	}
	f.sys = s
	if _, err := prediction.Compile(s); err != nil {
		f.add(err)
	}
}

func (k *checker) job(f *checkedFile) {
	s, err := k.e.jobShelf(path.Dir(f.name), "", "")
	if err != nil {
		f.add(err)
		return
	}
	s.Catalogue, s.Practice, s.Own = k.catalogue, k.practice, k.own
	j, err := job.Read(f.name, f.data, s)
	if f.add(err); err == nil {
		f.assumed = j.Assumed
	}
}

// mentions holds the files against each other: what one mentions another must
// declare. A procedure or practice file counts with the library's systems too,
// and has a problem when it has it with all of them that it applies to.
func (k *checker) mentions() {
	var all []*system.System
	everywhere := false
	for _, f := range k.files {
		if f.sys != nil {
			all = append(all, f.sys)
		}
		everywhere = everywhere || f.kind == "practice" || f.proc != nil
	}
	if everywhere {
		if shipped, err := system.Shipped(); err == nil { // the library's own test holds it
			all = append(all, shipped...)
		}
	}
	for _, f := range k.files {
		switch {
		case f.sys != nil:
			f.problems = append(f.problems, k.against(f, f.sys)...)
		case f.kind == "practice":
			f.everywhere(len(all), func(i int) problem.List { return k.against(f, all[i]) })
		case f.proc != nil:
			k.somewhere(f, all)
		}
	}
}

// somewhere notes the problems of a procedure with the systems that it is meant
// for, or that it can be done on none of them.
func (k *checker) somewhere(f *checkedFile, all []*system.System) {
	var meant []*system.System
	done, why := false, ""
	for _, s := range all {
		if ok, _ := f.proc.Meant(s); !ok {
			continue
		}
		meant = append(meant, s)
		ok, lacks := f.proc.Applies(s)
		if done = done || ok; why == "" {
			why = lacks
		}
	}
	before := len(f.problems)
	f.everywhere(len(meant), func(i int) problem.List { return k.against(f, meant[i]) })
	if len(f.problems) == before && len(meant) > 0 && !done {
		f.problems.Add(problem.Problem{File: f.name, Line: 1, Col: 1, What: "it can be done on none of the systems that it is meant for: " + why, Instead: "points, branches and places of one system"})
	}
}

// everywhere notes the problems that a file has with each of n systems. What to
// write instead may differ: the first one's is told.
func (f *checkedFile) everywhere(n int, with func(i int) problem.List) {
	var first problem.List
	seen := map[problem.Problem]int{}
	for i := range n {
		list := with(i)
		if i == 0 {
			first = list
		}
		for _, p := range list {
			p.Instead = ""
			seen[p]++
		}
	}
	for _, p := range first {
		same := p
		same.Instead = ""
		if seen[same] == n {
			f.problems.Add(p)
		}
	}
}

// against lists the problems of a file with a system, each once.
func (k *checker) against(f *checkedFile, s *system.System) problem.List {
	var out problem.List
	for _, p := range question.Check(s, k.catalogue, k.practiceOf(s)) {
		if p.File == f.name && !slices.Contains(out, p) {
			out.Add(p)
		}
	}
	if f.proc == nil || len(out) > 0 {
		return out
	}
	if done, _ := f.proc.Applies(s); !done {
		return nil
	}
	t, err := f.proc.Target(s)
	if err == nil {
		_, err = s.Rig.Path(s.Rig.Rest, t)
	}
	if err != nil {
		out.Add(problem.Problem{File: f.name, What: err.Error(), Instead: "a rig that can be reached on " + s.ID})
	}
	return out
}

// print says what was found; problems go to standard error.
func (f *checkedFile) print(t *text) {
	kind := f.kind
	if kind == "" {
		kind = "unknown kind"
	}
	found := "no problems"
	if n := len(f.problems); n > 0 {
		found = plural(n, "problem", "problems")
	}
	t.line(0, "%s: %s, %s", f.name, kind, found)
	for _, a := range f.assumed {
		t.hang("  assumed: ", a)
	}
	if len(f.ids) > 0 {
		t.hang("  written: ", "ids "+strings.Join(f.ids, ", "))
	}
	for _, l := range f.left {
		t.hang("  left: ", l)
	}
}

// checkOut is what --json prints; schema output-check.
type checkOut struct {
	Format   int            `json:"format"`
	Problems int            `json:"problems"`
	Files    []checkFileOut `json:"files"`
}

type checkFileOut struct {
	File     string       `json:"file"`
	Kind     string       `json:"kind"` // "" when its keys do not tell
	Problems problem.List `json:"problems"`
	Assumed  []string     `json:"assumed,omitempty"`
	Written  []string     `json:"written,omitempty"`
	Left     []string     `json:"left,omitempty"`
}

func (k *checker) out(problems int) checkOut {
	o := checkOut{Format: outputFormat, Problems: problems, Files: []checkFileOut{}}
	for _, f := range k.files {
		x := checkFileOut{f.name, f.kind, f.problems, f.assumed, f.ids, f.left}
		if x.Problems == nil {
			x.Problems = problem.List{}
		}
		o.Files = append(o.Files, x)
	}
	return o
}
