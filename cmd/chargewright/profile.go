//go:build profile

package main

import (
	"os"
	"os/signal"
	"runtime/pprof"
	"syscall"
)

// A program built with -tags profile, which internal/load -profile makes and nobody
// else has, writes where its processor time goes to a file beside it: SIGUSR1 begins, SIGUSR2 ends.
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
	}()
}
