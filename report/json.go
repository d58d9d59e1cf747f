package report

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"
)

// JSON writes a Report, a Record or a Card as indented JSON.
func JSON(w io.Writer, v any) error {
	data, err := encoded(v)
	if err != nil {
		return err
	}
	_, err = w.Write(data)
	return err
}

func encoded(v any) ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(v); err != nil {
		return nil, fmt.Errorf("it cannot be written as JSON: %w", err)
	}
	return b.Bytes(), nil
}

// SHA256 is the content hash of a Report, a Record or a Card, which stands on
// every page of it: SHA-256 of the bytes that JSON writes. Names, plate, date and
// size of paper are not in it, since they are no part of the record; whoever has
// the JSON can hold the paper against it.
func SHA256(v any) (string, error) {
	data, err := encoded(v)
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:]), nil
}

// significant rounds a number that leaves the program: what lies beyond comes of
// the arithmetic and not of the vehicle. Fewer digits hold for probabilities.
func significant(x float64, digits int) float64 {
	if x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return 0
	}
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', digits, 64), 64)
	if err != nil {
		return x
	}
	return y
}

// share rounds a probability to a hundredth of a percent.
func share(p float64) float64 { return math.Round(p*1e4) / 1e4 }

// exact rounds a figure to nine digits: a value that somebody typed comes back
// as it was typed.
func exact(x float64) float64 { return significant(x, 9) }

func exactly(x *float64) *float64 {
	if x == nil {
		return nil
	}
	y := exact(*x)
	return &y
}
