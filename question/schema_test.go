package question_test

import (
	"os"
	"testing"

	"chargewright/internal/schemas/schematest"
	"chargewright/question"
)

func TestSchemaAgrees(t *testing.T) {
	for _, name := range []string{"battery-density", "look-belt", "full-field-output"} {
		data, err := os.ReadFile("../system/library/procedures/" + name + ".yaml")
		if err != nil {
			t.Fatal(err)
		}
		schematest.Agree(t, "procedure", data, func(data []byte) error {
			_, err := question.Parse("f.yaml", data)
			return err
		}, false)
	}
}
