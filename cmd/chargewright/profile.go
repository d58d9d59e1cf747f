//go:build profile

package main

import (
	"os"
	"os/signal"
	"runtime"
	"runtime/pprof"
	"syscall"
)

// A program built with -tags profile, which internal/load -profile makes and nobody
// else has, writes where its processor time goes to a file beside it, and at the end
// what it holds in memory to another: SIGUSR1 begins, SIGUSR2 ends.
func init() {
	begin, end := make(chan os.Signal, 1), make(chan os.Signal, 1)
	signal.Notify(begin, syscall.SIGUSR1)
	signal.Notify(end, syscall.SIGUSR2)
	go func() {
		<-begin
		f, err := os.Create(os.Args[0] + ".prof")
		if err != nil || pprof.StartCPUProfile(f) != nil {
			return
		}
		<-end
		pprof.StopCPUProfile()
		_ = f.Close()
		if f, err = os.Create(os.Args[0] + ".heap"); err != nil {
			return
		}
		runtime.GC() // what nobody holds any more is not held
		_ = pprof.WriteHeapProfile(f)
		_ = f.Close()
	}()
}
