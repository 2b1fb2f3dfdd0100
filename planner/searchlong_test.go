//go:build unix

package planner_test

import (
	"os"
	"runtime"
	"syscall"
	"testing"
	"time"

	"allup/planner"
)

// TestSearchOfABillion tells how searches up to 10^9 combinations went: ALLUP_LONG=1 go test ./planner -run
// OfABillion -v.
func TestSearchOfABillion(t *testing.T) {
	if os.Getenv("ALLUP_LONG") == "" {
		t.Skip("ALLUP_LONG is not set")
	}
	for _, c := range searchCases() {
		for seed := range uint64(2) {
			b := shopOf(t, c.size, seed, c.even, c.goal)
			worked, begun := processorTime(t), time.Now()
			f := find(t, b, planner.SearchOptions{})
			took, work := time.Since(begun), processorTime(t)-worked
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			t.Logf("%s, seed %d: %d combinations in %v, %v of processor time, %d MB from the system; tried %d, front %d, excluded %v; best %s",
				c.name, seed, f.Combinations, took.Round(time.Millisecond), work.Round(time.Millisecond), m.Sys>>20, f.Tried, len(f.Front), f.Excluded, summary(f))
		}
	}
}

// processorTime is what this process has used of all processors.
func processorTime(t *testing.T) time.Duration {
	t.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		t.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
