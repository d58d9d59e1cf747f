package journal

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"strings"

	"chargewright/problem"
)

// MaxParcel is the most bytes that a parcel's file may have.
const MaxParcel = 256 << 20

// ParseParcel reads a parcel's file. The error is a problem.List with everything
// that is wrong with it: nothing of a parcel with a problem is taken over.
func ParseParcel(file string, data []byte) (*Parcel, error) {
	r := &unpacking{file: file, p: &Parcel{contents: map[Sum][]byte{}}, at: map[Sum]int{}, ids: map[string]int{}}
	if len(data) > MaxParcel {
		r.say(0, "", "it has %d bytes: at most %d are read", len(data), MaxParcel)
		return nil, r.list.Err()
	}
	lines := bytes.Split(bytes.TrimSuffix(data, []byte("\n")), []byte("\n"))
	if !r.head(lines[0]) {
		return nil, r.list.Err()
	}
	for i, line := range lines[1:] {
		r.line = i + 2
		r.next(line)
	}
	r.whole()
	r.list.Sort()
	if err := r.list.Err(); err != nil {
		return nil, err
	}
	return r.p, nil
}

// unpacking is a parcel's file being read.
type unpacking struct {
	file     string
	line     int
	list     problem.List
	p        *Parcel
	top      headLine
	at       map[Sum]int    // line of each content
	ids      map[string]int // line of each event's id
	numbers  []int          // line of each event
	customer int            // line of the customer; 0 without one
}

func (r *unpacking) say(line int, instead, what string, args ...any) {
	r.list.Add(problem.Problem{File: r.file, Line: line, What: fmt.Sprintf(what, args...), Instead: instead})
}

// decode reads one line strictly; what is wrong with it is said.
func (r *unpacking) decode(line []byte, into any) bool {
	d := json.NewDecoder(bytes.NewReader(line))
	d.DisallowUnknownFields()
	err := d.Decode(into)
	if err == nil {
		if _, err := d.Token(); !errors.Is(err, io.EOF) {
			r.say(r.line, "", "something stands after the line's end; a line holds one object")
			return false
		}
		lacks := lacking(line, into)
		for _, key := range lacks {
			r.say(r.line, "the file as it was exported", "%s is missing", key)
		}
		return len(lacks) == 0
	}
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		r.list.Add(problem.Problem{File: r.file, Line: r.line, Col: int(syntax.Offset), What: "it is no JSON: " + syntax.Error(), Instead: "the file as it was exported"})
	case errors.As(err, &kind) && kind.Field == "":
		r.say(r.line, "", "the line holds a %s: each line is an object", kind.Value)
	case errors.As(err, &kind):
		r.say(r.line, kind.Type.String(), "%s is a %s", kind.Field, kind.Value)
	case errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF):
		r.say(r.line, "", "the line is empty or cut off: export the job again")
	default:
		r.say(r.line, "", "%s", strings.TrimPrefix(err.Error(), "json: "))
	}
	return false
}

// lacking are the keys that a line must have and has not: encoding/json takes what
// is missing for what is empty.
func lacking(line []byte, into any) (out []string) {
	var has map[string]json.RawMessage
	if json.Unmarshal(line, &has) != nil {
		return nil // said
	}
	for f := range reflect.TypeOf(into).Elem().Fields() {
		key, maybe, _ := strings.Cut(f.Tag.Get("json"), ",")
		if _, there := has[key]; !there && maybe == "" {
			out = append(out, key)
		}
	}
	return out
}

// head reads the first line. A file without one is not looked at any further.
func (r *unpacking) head(line []byte) bool {
	r.line = 1
	var is struct {
		Is     *string `json:"chargewright"`
		Format *int    `json:"format"`
	}
	if json.Unmarshal(line, &is) != nil || is.Is == nil || *is.Is != parcelIs {
		r.say(1, "a file that chargewright export has written", "it is no exported job")
		return false
	}
	if is.Format == nil || *is.Format != parcelFormat {
		r.say(1, "", "its format is none that this program reads (it reads %d): use the program that wrote it, or a newer one", parcelFormat)
		return false
	}
	if !r.decode(line, &r.top) {
		return false
	}
	p := r.p
	p.Stream, p.Engine = r.top.Stream, r.top.Engine
	var err error
	if p.Written, err = unstamp(r.top.Written); err != nil {
		r.say(1, "2026-11-25T09:10:00+01:00", "written: %q is no time", r.top.Written)
	}
	if !jobStream.MatchString(p.Stream) || reserved(p.Stream) {
		r.say(1, "letters, digits, dots and dashes", "stream: %q is not the name of a job's stream", p.Stream)
	}
	if r.top.Engine != "" && name(r.top.Engine) != "" {
		r.say(1, "", "engine: it %s", name(r.top.Engine))
	}
	return true
}

// next reads a line after the first, by the key that says what it is.
func (r *unpacking) next(line []byte) {
	var is struct {
		Content  json.RawMessage `json:"content"`
		Event    json.RawMessage `json:"event"`
		Customer json.RawMessage `json:"customer"`
	}
	if err := json.Unmarshal(line, &is); err != nil {
		r.decode(line, &struct{}{}) // says where
		return
	}
	switch {
	case is.Event != nil:
		var e eventLine
		if r.decode(line, &e) {
			r.event(&e)
		} else {
			r.numbers, r.p.rows = append(r.numbers, r.line), append(r.p.rows, nil)
		}
	case is.Content != nil:
		var c contentLine
		if r.decode(line, &c) {
			r.content(&c)
		}
	case is.Customer != nil:
		var c customerLine
		if r.decode(line, &c) {
			r.person(&c)
		}
	default:
		r.say(r.line, "one of event, content, customer", "the line does not say what it is")
	}
}

// raw is the bytes of a line that has them as text or as they are.
func (r *unpacking) raw(key string, text *string, raw []byte) []byte {
	if (text == nil) == (raw == nil) {
		r.say(r.line, "", "it has both %s and base64, or neither: one of them holds the bytes", key)
		return nil
	}
	if text != nil {
		return []byte(*text)
	}
	return raw
}

func (r *unpacking) content(c *contentLine) {
	bytes := r.raw("text", c.Text, c.Base64)
	sum, err := ParseSum(c.SHA256)
	switch {
	case err != nil:
		r.say(r.line, "", "content: %v", err)
		return
	case r.at[sum] > 0:
		r.say(r.line, "", "content %v stands in line %d already", sum, r.at[sum])
		return
	}
	r.at[sum] = r.line
	switch is := Sum(sha256.Sum256(bytes)); {
	case bytes == nil: // said
	case is != sum:
		r.say(r.line, "", "the content's bytes have the hash %v, not %v: they were changed; export the job again", is, sum)
	case len(bytes) == 0 || len(bytes) > MaxContent:
		r.say(r.line, "", "content of %d bytes: 1 to %d are kept", len(bytes), MaxContent)
	}
	r.p.contents[sum] = bytes
}

func (r *unpacking) event(e *eventLine) {
	row := &stored{
		stream: r.p.Stream, seq: e.Seq, id: e.ID, kind: e.Kind, v: e.V, body: r.raw("body", e.Body, e.Base64), at: e.At, recorded: e.Recorded,
		device: e.Device, person: e.Person, seen: e.Seen, engine: e.Engine,
	}
	for _, h := range []struct {
		key, text string
		into      *[]byte
	}{{"prev", e.Prev, &row.prev}, {"hash", e.Hash, &row.hash}} {
		sum, err := ParseSum(h.text)
		if err != nil {
			r.say(r.line, "", "%s: %v", h.key, err)
		}
		*h.into = sum[:]
	}
	event, err := row.event()
	if err != nil {
		r.say(r.line, "2026-11-25T09:10:00+01:00", "a time cannot be read: %v", err)
	}
	if e.Recorded == "" {
		r.say(r.line, "", "it does not say when it was recorded")
	}
	for _, what := range ill(event) {
		r.say(r.line, "", "%s", what)
	}
	if before := r.ids[e.ID]; before > 0 {
		r.say(r.line, "", "id %s is that of line %d, too", e.ID, before)
	}
	r.ids[e.ID] = r.line
	r.numbers, r.p.rows = append(r.numbers, r.line), append(r.p.rows, row)
}

func (r *unpacking) person(c *customerLine) {
	if r.customer > 0 {
		r.say(r.line, "", "a customer stands in line %d already", r.customer)
	}
	r.customer = r.line
	r.p.Customer = &Customer{ID: c.ID, Name: c.Name, Plate: c.Plate, Contact: c.Contact}
	if err := r.p.Customer.problems(); err != nil {
		for what := range strings.SplitSeq(err.Error(), "\n") {
			r.say(r.line, "", "%s", what)
		}
	}
}
