package truth

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// waves is what a transient run recorded: a column of samples for each name.
type waves struct {
	at   map[string]int
	time []float64
	col  [][]float64
}

// parseRaw reads ngspice's binary raw file of a transient analysis: lines of
// text up to "Binary:", then float64 of the machine's own order, which is little
// endian on all that ngspice is packaged for here, point by point.
func parseRaw(raw []byte) (*waves, error) {
	head, body, ok := bytes.Cut(raw, []byte("\nBinary:\n"))
	if !ok {
		return nil, fmt.Errorf("truth: not a binary raw file of ngspice: run it with -b -r and without set filetype=ascii")
	}
	w := &waves{at: map[string]int{}}
	vars, points := 0, 0
	lines := strings.Split(string(head), "\n")
	for i, line := range lines {
		key, rest, _ := strings.Cut(line, ":")
		rest = strings.TrimSpace(rest)
		switch key {
		case "No. Variables":
			vars, _ = strconv.Atoi(rest) // nothing read is found below
		case "No. Points":
			points, _ = strconv.Atoi(rest)
		case "Variables":
			for _, l := range lines[i+1:] {
				if f := strings.Fields(l); len(f) >= 3 {
					w.at[strings.ToLower(f[1])] = len(w.at)
				}
			}
		}
	}
	if vars == 0 || points < 2 || len(w.at) != vars || len(body) < 8*vars*points {
		return nil, fmt.Errorf("truth: the raw file has %d variables, %d names, %d points and %d bytes: the run was cut short", vars, len(w.at), points, len(body))
	}
	w.col = make([][]float64, vars)
	for v := range w.col {
		w.col[v] = make([]float64, points)
		for k := range points {
			x := math.Float64frombits(binary.LittleEndian.Uint64(body[8*(k*vars+v):]))
			if math.IsNaN(x) || math.IsInf(x, 0) {
				return nil, fmt.Errorf("truth: the raw file holds no number at point %d: the run went astray", k)
			}
			w.col[v][k] = x
		}
	}
	w.time = w.col[0]
	return w, nil
}

// get returns a column; the reference's is all zero.
func (w *waves) get(name string) ([]float64, error) {
	if name == "0" {
		return make([]float64, len(w.time)), nil
	}
	for _, n := range []string{name, "v(" + name + ")"} {
		if i, ok := w.at[n]; ok {
			return w.col[i], nil
		}
	}
	return nil, fmt.Errorf("truth: the run recorded no %s", name)
}

// cut is a stretch of a run, with weights that turn samples into a mean: the
// trapezoidal rule over unequal steps, with the ends interpolated.
type cut struct {
	from    int
	weights []float64
}

// between cuts from a to b [s].
func (w *waves) between(a, b float64) (cut, error) {
	t := w.time
	if a < t[0] || b > t[len(t)-1] || b <= a {
		return cut{}, fmt.Errorf("truth: the run recorded %.6g to %.6g s and not %.6g to %.6g", t[0], t[len(t)-1], a, b)
	}
	i := 0
	for t[i+1] <= a {
		i++
	}
	c := cut{from: i}
	for k := i; k < len(t)-1 && t[k] < b; k++ {
		lo, hi := math.Max(t[k], a), math.Min(t[k+1], b)
		h := t[k+1] - t[k]
		if h <= 0 || hi <= lo {
			c.add(k-i, 0, 0)
			continue
		}
		// Mean of a straight line over lo..hi, as weights of its two ends.
		mid := ((lo+hi)/2 - t[k]) / h
		c.add(k-i, (hi-lo)/(b-a)*(1-mid), (hi-lo)/(b-a)*mid)
	}
	return c, nil
}

func (c *cut) add(k int, left, right float64) {
	for len(c.weights) < k+2 {
		c.weights = append(c.weights, 0)
	}
	c.weights[k] += left
	c.weights[k+1] += right
}

// mean is a column's mean over the cut.
func (c cut) mean(x []float64) float64 {
	sum := 0.0
	for k, g := range c.weights {
		sum += g * x[c.from+k]
	}
	return sum
}

// product is the mean of the product of two columns less their means. The
// trapezoidal rule on samples is short of the exact integral of a square by
// sixth of the steps' squares: under 0.1 % at 200 steps a turn.
func (c cut) product(x, y []float64, mx, my float64) float64 {
	sum := 0.0
	for k, g := range c.weights {
		sum += g * (x[c.from+k] - mx) * (y[c.from+k] - my)
	}
	return sum
}
