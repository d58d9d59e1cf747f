package job_test

import (
	"os"
	"testing"

	"chargewright/internal/schemas/schematest"
	"chargewright/job"
)

func TestSchemaAgrees(t *testing.T) {
	s := shelf(t)
	for _, name := range []string{"no-charge", "readings-only", "identified", "reopened"} {
		data, err := os.ReadFile("testdata/v1/" + name + ".yaml")
		if err != nil {
			t.Fatal(err)
		}
		schematest.Agree(t, "job", data, func(data []byte) error {
			_, err := job.Parse("f.yaml", data, s)
			return err
		}, false)
	}
}
