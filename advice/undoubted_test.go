package advice

import "testing"

// TestUndoubted: a job of more values than can be doubted says so.
func TestUndoubted(t *testing.T) {
	if said := undoubted(256); said != nil {
		t.Errorf("256 values: %q", said)
	}
	want := "257 values were taken: those after the first 256 count as right, whatever they say"
	if said := undoubted(257); len(said) != 1 || said[0] != want {
		t.Errorf("257 values: %q", said)
	}
}
