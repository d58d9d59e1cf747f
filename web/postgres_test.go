package web

import (
	"testing"

	"chargewright/internal/storetest"
)

// TestOnPostgres does over on PostgreSQL what rests on the database: a whole job by
// forms, the instruments, people and their accounts, two devices on one job, a
// reading that waited, a form whose server died, a job that begins with two events. The pages do not know which database they stand on, so the
// other tests run on SQLite; with CHARGEWRIGHT_WEB_ON=postgres all of them run on
// PostgreSQL, and this one has nothing to add.
func TestOnPostgres(t *testing.T) {
	if base.Name == storetest.Postgres.Name {
		return
	}
	before := base
	base = storetest.Postgres
	t.Cleanup(func() { base = before })
	for name, test := range map[string]func(*testing.T){
		"TestAWholeJob": TestAWholeJob, "TestInstruments": TestInstruments, "TestPeople": TestPeople, "TestOwnAccount": TestOwnAccount, "TestPasskeys": TestPasskeys,
		"TestTwoDevices": TestTwoDevices, "TestTwoWriters": TestTwoWriters, "TestWaitingOnce": TestWaitingOnce, "TestDoneOver": TestDoneOver, "TestOpenedByLooks": TestOpenedByLooks,
		"TestTaskOfAForm": TestTaskOfAForm, "TestFitByAnother": TestFitByAnother, "TestNightly": TestNightly,
	} {
		t.Run(name, test)
	}
}
