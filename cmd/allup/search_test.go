package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/signal"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"
)

// largeShop is so many records that a search of them takes minutes.
func largeShop() string {
	var b strings.Builder
	wave := func(i int, turns float64) float64 { return 0.5 + 0.5*math.Sin(float64(i)*turns) }
	for i := range 2500 {
		fmt.Fprintf(&b, "[motor.m%04d]\nmass_g = %.3f\nkv = %.1f\nr_mohm = %.2f\nno_load_a = 0.6\n", i, 7+4*wave(i, 1.7), 2500+2000*wave(i, 2.3), 90+80*wave(i, 0.9))
	}
	for i := range 300 {
		fmt.Fprintf(&b, "[prop.p%04d]\nmass_g = %.3f\ndiameter_in = %.3f\npitch_in = 2.4\nblades = 3\nct = %.4f\ncp = %.5f\n", i, 1+wave(i, 1.1), 3+0.5*wave(i, 2.9), 0.11+0.04*wave(i, 0.7), 0.07+0.02*wave(i, 1.9))
	}
	for i := range 150 {
		fmt.Fprintf(&b, "[pack.k%04d]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = %.0f\nmass_g = %.2f\nplug = \"xt30\"\n", i, 400+400*wave(i, 1.3), 50+40*wave(i, 1.3)+3*wave(i, 5))
	}
	return b.String()
}

// TestSearchInterrupted: Ctrl-C in the middle shows what was found, says that it is partial and how much better
// the rest may be, and is no yes.
func TestSearchInterrupted(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("a process cannot send itself Ctrl-C there")
	}
	dir := t.TempDir()
	records := filepath.Join(dir, "shop.toml")
	if err := os.WriteFile(records, []byte(largeShop()), 0o644); err != nil {
		t.Fatal(err)
	}
	build := filepath.Join(repository(t), "testdata", "builds", "curlew.toml")
	// Whatever comes before or after the command's own watch of signals must not end the tests.
	interrupts := make(chan os.Signal, 1)
	signal.Notify(interrupts, os.Interrupt)
	defer signal.Stop(interrupts)
	var out, errs bytes.Buffer
	s := &streams{in: strings.NewReader(""), out: &out, err: &errs, configDir: func() (string, error) { return dir + "/none", nil }}
	code := make(chan exitCode)
	go func() {
		code <- run(s, []string{"search", build, "--any", "frame,motor,prop,board", "--parts", records, "--format", "json"})
	}()
	var got exitCode
	for ended := false; !ended; {
		select {
		case got = <-code:
			ended = true
		case <-time.After(2 * time.Second):
			self, err := os.FindProcess(os.Getpid())
			if err == nil {
				err = self.Signal(os.Interrupt)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
	}
	var answer struct {
		Combinations, Tried, Untried int64
		Partial                      bool
		Excluded                     map[string]int64
		Best                         []any
		AtMost                       *float64 `json:"untried_score_at_most"`
	}
	if err := json.Unmarshal(out.Bytes(), &answer); err != nil {
		t.Fatalf("exit %d: %v\n%s", got, err, errs.String())
	}
	sum := answer.Tried + answer.Untried
	for _, n := range answer.Excluded {
		sum += n
	}
	if !answer.Partial || answer.Untried == 0 || sum != answer.Combinations || got != exitFail || !strings.Contains(errs.String(), "the answer is partial") {
		t.Errorf("exit %d, partial %v, %d of %d accounted for, %d untried: %s", got, answer.Partial, sum, answer.Combinations, answer.Untried, errs.String())
	}
	if len(answer.Best) > 0 && (answer.AtMost == nil || *answer.AtMost < 1) {
		t.Errorf("of what is left is said %v", answer.AtMost)
	}
}
