package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"

	"chargewright/problem"
)

// Exit codes. They are a promise to scripts.
const (
	exitAnswer   = 0 // an answer stands on stdout
	exitInput    = 1 // the input has problems; all of them stand on stderr
	exitUsage    = 2 // the command line cannot be understood
	exitNoAnswer = 3 // nothing wrong with the input, and no answer: the circuit does not solve
	exitConflict = 4 // two things that cannot both be
)

// coded is an error with the exit code that it stands for.
type coded struct {
	code int
	err  error
}

func (c *coded) Error() string { return c.err.Error() }
func (c *coded) Unwrap() error { return c.err }

func usage(format string, args ...any) error {
	return &coded{exitUsage, fmt.Errorf(format, args...)}
}

func noAnswer(err error) error { return &coded{exitNoAnswer, err} }

// report prints what a command returned and gives its exit code. Problems in
// files stand one a line, as file:line:col, and are counted.
func report(e *env, err error) int {
	if err == nil {
		return exitAnswer
	}
	var list problem.List
	if errors.As(err, &list) {
		list.Sort()
		_, _ = fmt.Fprintln(e.stderr, list.Error())
		if len(list) > 1 {
			_, _ = fmt.Fprintf(e.stderr, "%d problems\n", len(list))
		}
		return exitInput
	}
	_, _ = fmt.Fprintf(e.stderr, "chargewright: %v\n", err)
	var c *coded
	if errors.As(err, &c) {
		return c.code
	}
	return exitInput
}

// disk is the machine's own file system and the working directory as a name in
// it. Where there is no working directory, names count from the root.
func disk() (fs.FS, string) {
	dir, err := os.Getwd()
	if err != nil {
		dir = string(filepath.Separator)
	}
	root := filepath.VolumeName(dir) + string(filepath.Separator)
	return os.DirFS(root), strings.TrimPrefix(filepath.ToSlash(dir), filepath.ToSlash(root))
}

// read reads a file named on the command line or in a job file.
func (e *env) read(name string) ([]byte, error) {
	if name == "" {
		return nil, errors.New("the name of a file is empty: name the file")
	}
	data, err := fs.ReadFile(e.fs, e.name(name))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("there is no file %s", name)
	}
	if about, bad := fs.Stat(e.fs, e.name(name)); err != nil && bad == nil && about.IsDir() {
		return nil, fmt.Errorf("%s is a directory: name its files, such as %s/*.yaml", name, strings.TrimRight(name, "/"))
	}
	if err != nil {
		return nil, fmt.Errorf("%s cannot be read: %w", name, plain(err))
	}
	return data, nil
}

// stdin is the name that stands for standard input, and stdinName what it is called.
const (
	stdin     = "-"
	stdinName = "standard input"
)

// take is read of a file or, for "-", of standard input; problems are said of name.
func (e *env) take(file string) (name string, data []byte, err error) {
	if file != stdin {
		data, err = e.read(file)
		return file, data, err
	}
	if data, err = io.ReadAll(e.stdin); err != nil {
		return stdinName, nil, fmt.Errorf("%s cannot be read: %w", stdinName, err)
	}
	return stdinName, data, nil
}

// name is a file's name in the env's file system.
func (e *env) name(file string) string {
	file = filepath.ToSlash(file)
	if path.IsAbs(file) || filepath.VolumeName(file) != "" {
		return strings.TrimPrefix(strings.TrimPrefix(file, filepath.ToSlash(filepath.VolumeName(file))), "/")
	}
	return strings.TrimPrefix(path.Join("/", e.cwd, file), "/")
}

// plain takes the path off an error, which has been said already.
func plain(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}

// takesColour reports whether a file is a terminal whose owner wants colour
// (NO_COLOR, no-color.org: memory).
func takesColour(f *os.File) bool {
	if os.Getenv("NO_COLOR") != "" || os.Getenv("TERM") == "dumb" {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}
