// Package ngspice runs the circuit simulator ngspice in batch mode, for tests
// and for the program that makes fixtures. It knows no circuits, keeps no file
// and refuses a run that printed no raw file.
package ngspice

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"time"
)

// limit is how long one run may take: a hundred times what it should.
const limit = 2 * time.Minute

// Raw runs the program on a netlist and returns its raw file.
func Raw(program, netlist string) ([]byte, error) {
	dir, err := os.MkdirTemp("", "ngspice")
	if err != nil {
		return nil, err
	}
	defer func() { _ = os.RemoveAll(dir) }() // a temporary folder: the system clears what is left
	in, raw := filepath.Join(dir, "in.cir"), filepath.Join(dir, "out.raw")
	if err := os.WriteFile(in, []byte(netlist), 0o600); err != nil {
		return nil, err
	}
	ctx, stop := context.WithTimeout(context.Background(), limit)
	defer stop()
	cmd := exec.CommandContext(ctx, program, "-b", "-r", raw, in)
	cmd.Dir = dir
	said, err := cmd.CombinedOutput()
	if err != nil {
		return nil, fmt.Errorf("ngspice: %w\n%s", err, tail(said))
	}
	out, err := os.ReadFile(raw)
	if err != nil {
		return nil, fmt.Errorf("ngspice ended well and left no raw file: %w\n%s", err, tail(said))
	}
	return out, nil
}

// tail is the end of what the program said.
func tail(said []byte) []byte {
	said = bytes.TrimSpace(said)
	const most = 2000
	if len(said) > most {
		said = said[len(said)-most:]
	}
	return said
}

var versionLine = regexp.MustCompile(`ngspice-\S+`)

// Version asks the program what it is.
func Version(program string) (string, error) {
	said, err := exec.Command(program, "--version").CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("ngspice: %w", err)
	}
	if v := versionLine.Find(said); v != nil {
		return string(v), nil
	}
	return "", fmt.Errorf("ngspice: no version in what %s printed", program)
}
