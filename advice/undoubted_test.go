package advice

import "testing"

// TestUndoubted: a job of more values than can be doubted says so.
func TestUndoubted(t *testing.T) {
	if said := undoubted(64); said != nil {
		t.Errorf("64 values: %q", said)
	}
	want := "65 values were taken: those after the first 64 count as right, whatever they say"
	if said := undoubted(65); len(said) != 1 || said[0] != want {
		t.Errorf("65 values: %q", said)
	}
}
