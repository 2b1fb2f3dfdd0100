package tested_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"allup/catalog"
	"allup/planner/tested"
)

// TestComments: what stands above a written record is in the units that it says: read back, it is what the logs gave.
func TestComments(t *testing.T) {
	b, file := demoBench(t)
	packs, err := tested.ReduceBench(b, catalog.BenchFS(file), nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	near := func(said, is float64) bool { return math.Abs(said-is) <= 0.06*math.Abs(is)+1e-9 } // two digits are said
	seen := 0
	for i := range packs {
		p := &packs[i]
		if p.Record == nil {
			continue
		}
		seen++
		text := strings.Join(p.Comments(), "\n")
		find := func(from, format string, to ...any) {
			at := strings.Index(text, from)
			if at < 0 {
				t.Errorf("%s: no %q in\n%s", p.Bench.ID, from, text)
				return
			}
			if _, err := fmt.Sscanf(text[at+len(from):], format, to...); err != nil {
				t.Errorf("%s: %q: %v in\n%s", p.Bench.ID, from, err, text)
			}
		}
		var watts, held, seconds, amps, conditioning, share, ramp, rms float64
		var rows, burstRows int
		find("constant power of ", "%g W, held within %g %%, %d rows, %g s", &watts, &held, &rows, &seconds)
		find("Burst: ", "%g A for %g s removed %g %% of the rated charge, then +%g A/s; %d rows", &amps, &conditioning, &share, &ramp, &burstRows)
		find("fitted to the logs, ", "%g mV", &rms)
		d, u := p.Discharge, p.Burst
		for _, c := range []struct {
			what     string
			said, is float64
		}{
			{"power", watts, float64(d.Power)},
			{"time", seconds, float64(d.Duration)},
			{"current", amps, float64(u.ConditioningCurrent)},
			{"conditioning", conditioning, float64(u.ConditioningTime)},
			{"share", share, 100 * u.ConditioningShare},
			{"ramp", ramp, u.Ramp},
			{"rms", rms, 1000 * float64(p.Fit.RMS)},
		} {
			if !near(c.said, c.is) {
				t.Errorf("%s: %s is said as %g, want %g", p.Bench.ID, c.what, c.said, c.is)
			}
		}
		if math.Abs(held-100*d.HeldWithin) > 0.051 || rows != d.Rows || burstRows != u.Rows {
			t.Errorf("%s: held within %g %% over %d rows, burst of %d rows; want %g %%, %d, %d", p.Bench.ID, held, rows, burstRows, 100*d.HeldWithin, d.Rows, u.Rows)
		}
	}
	if seen < 6 {
		t.Errorf("%d packs of the demo bench have records", seen)
	}
}
