package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"chargewright/advice"
	"chargewright/unit"
)

// Pair is a reading before and after the repairs.
type Pair struct {
	Name   string `json:"name"`
	Limit  string `json:"limit,omitempty"`
	Before string `json:"before,omitempty"`
	After  string `json:"after"`
	Scale  *Scale `json:"scale,omitempty"` // nil = nothing that could be drawn
}

// Scale is a pair on one axis: positions from 0 to 1.
type Scale struct {
	Low    *float64 `json:"low,omitempty"` // ends of the limit
	High   *float64 `json:"high,omitempty"`
	Before *float64 `json:"before,omitempty"`
	After  float64  `json:"after"`
}

// pairs are the readings of the proof that were taken, first value of each.
func pairs(s *advice.Standing) []Pair {
	out := []Pair{}
	for _, p := range s.Proof() {
		if p.After == nil || len(p.After.Values) == 0 {
			continue
		}
		after := p.After.Values[0]
		pair := Pair{Name: p.Name}
		var before *advice.Value
		if p.Before != nil && len(p.Before.Values) > 0 {
			before = &p.Before.Values[0]
		}
		whole := coarse(before, &after)
		pair.After = alike(after, whole)
		if before != nil {
			pair.Before = alike(*before, whole)
		}
		if len(after.Limits) > 0 {
			l := after.Limits[0]
			pair.Limit = limitAlike(l, after.Dim, whole) + ", " + l.Origin()
		}
		pair.Scale = scale(before, &after)
		out = append(out, pair)
	}
	return out
}

// coarse says whether one of the two was read in whole volts, amps or ohms: then
// both are said so, since 1.98 V beside 310 mV is misread by whoever does not
// work with them.
func coarse(before, after *advice.Value) bool {
	for _, v := range []*advice.Value{before, after} {
		if v != nil && v.Value != nil && math.Abs(*v.Value) >= 1 {
			return true
		}
	}
	return false
}

// alike is a value in the unit of its kind, where that is asked for.
func alike(v advice.Value, whole bool) string {
	if !whole || v.Value == nil || v.Dim.Symbol() == "" {
		return v.Words()
	}
	places := 2
	if v.Resolution > 0 {
		places = min(3, max(0, int(math.Round(-math.Log10(v.Resolution)))))
	}
	return strings.Replace(fmt.Sprintf("%.*f\u00a0%s", places, *v.Value, advice.Sign(v.Dim)), "-", "\u2212", 1)
}

// limitAlike is a limit in the unit of its kind, where that is asked for.
func limitAlike(l advice.Limit, dim unit.Dim, whole bool) string {
	if !whole || dim.Symbol() == "" || l.Low != nil && *l.Low < 0 {
		return l.Words(dim)
	}
	say := func(x float64) string {
		return strconv.FormatFloat(significant(x, 4), 'f', -1, 64) + "\u00a0" + advice.Sign(dim)
	}
	at := ""
	if l.At != nil {
		at = fmt.Sprintf(" at %.0f\u00a0°C", *l.At)
	}
	switch {
	case l.Low != nil && l.High != nil:
		return say(*l.Low) + " to " + say(*l.High) + at
	case l.Low != nil:
		return say(*l.Low) + " at least" + at
	case l.High != nil:
		return say(*l.High) + " at most" + at
	}
	return l.Words(dim)
}

// scale lays a pair on an axis: from nothing where there is only an upper limit,
// else with room on both sides.
func scale(before, after *advice.Value) *Scale {
	if after.Value == nil {
		return nil
	}
	lo, hi := *after.Value, *after.Value
	wide := func(x *float64) {
		if x != nil {
			lo, hi = math.Min(lo, *x), math.Max(hi, *x)
		}
	}
	var low, high, was *float64
	if len(after.Limits) > 0 {
		low, high = after.Limits[0].Low, after.Limits[0].High
	}
	if before != nil {
		was = before.Value
	}
	wide(low)
	wide(high)
	wide(was)
	room := 0.12 * (hi - lo)
	if low == nil && lo >= 0 {
		lo, room = 0, 0.12*hi
	} else {
		lo -= room
	}
	hi += room
	if !(hi > lo) {
		return nil
	}
	at := func(x *float64) *float64 {
		if x == nil {
			return nil
		}
		t := math.Round(1e3*(*x-lo)/(hi-lo)) / 1e3
		return &t
	}
	return &Scale{Low: at(low), High: at(high), Before: at(was), After: *at(after.Value)}
}
