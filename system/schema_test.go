package system_test

import (
	"testing"

	"chargewright/internal/schemas/schematest"
	"chargewright/system"
)

func TestSchemaAgrees(t *testing.T) {
	for _, name := range []string{"small.yaml", "drawn.yaml"} {
		schematest.Agree(t, "system", read(t, "testdata/good/"+name), func(data []byte) error {
			_, err := system.Parse(name, data)
			return err
		}, false)
	}
	schematest.Agree(t, "practice", read(t, "testdata/practice/whole.yaml"), func(data []byte) error {
		_, err := system.ParsePractice("whole.yaml", data)
		return err
	}, true) // which sections must stand depends on whether it is laid over another
}
