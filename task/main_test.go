package task

import (
	"bufio"
	"context"
	"fmt"
	"log/slog"
	"os"
	"testing"
	"time"

	"chargewright/internal/storetest"
	"chargewright/store"
)

// otherVariable makes this program another one, which takes a task on the database that
// it names and never ends it.
const otherVariable = "CHARGEWRIGHT_TASK_OTHER"

func TestMain(m *testing.M) {
	if place := os.Getenv(otherVariable); place != "" {
		if err := other(place); err != nil {
			fmt.Println(err)
			os.Exit(1)
		}
	}
	os.Exit(storetest.Run(m))
}

func other(place string) error {
	db, err := store.Open(context.Background(), place)
	if err != nil {
		return err
	}
	q, err := On(db, time.Now, slog.New(slog.DiscardHandler))
	if err != nil {
		return err
	}
	held := slow("held", time.Second)
	held.Do = func(context.Context, string) error {
		fmt.Println("taken")
		_, _ = bufio.NewReader(os.Stdin).ReadByte() // until it is killed
		return nil
	}
	return q.Take(context.Background(), 1, held)
}

// slow is a kind that is tried often and soon.
func slow(name string, within time.Duration) Kind {
	return Kind{Name: name, Within: within, Again: 10 * time.Millisecond, Tries: 3}
}
