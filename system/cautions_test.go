package system

import (
	"io/fs"
	"testing"

	"chargewright/internal/layover"
)

// TestCautionsAreTheSame: what is said of a danger is said alike on every vehicle of a
// 12 V workshop: cautions.yaml holds those of road-car.yaml, key by key.
func TestCautionsAreTheSame(t *testing.T) {
	words := func(name string) map[string]string {
		text, err := fs.ReadFile(Files(), hookUpsDir+"/"+name)
		if err != nil {
			t.Fatal(err)
		}
		top, err := topOf(text)
		if err != nil {
			t.Fatal(err)
		}
		list, _ := layover.Find(top, "cautions")
		out := map[string]string{}
		for _, c := range list.Content {
			all := ""
			for i := 0; i+1 < len(c.Content); i += 2 {
				all += c.Content[i].Value + ": " + c.Content[i+1].Value + "; "
			}
			id, _ := layover.Find(c, "id")
			out[id.Value] = all
		}
		return out
	}
	road, own := words("road-car.yaml"), words("cautions.yaml")
	for id, said := range road {
		if own[id] != said {
			t.Errorf("%s is %q in cautions.yaml, %q in road-car.yaml", id, own[id], said)
		}
	}
	if len(own) != len(road) || len(road) < 50 {
		t.Errorf("%d cautions and %d of road cars", len(own), len(road))
	}
}
