package bench

import (
	"math"
	"math/rand/v2"
	"testing"
)

// rowsOf are rows a second of a voltage and a current by the time.
func rowsOf(n int, volts, amps func(t float64) float64) []moment {
	rows := make([]moment, n)
	for k := range rows {
		t := float64(k)
		rows[k] = moment{t: t, v: volts(t), i: amps(t), line: k + 2}
	}
	return rows
}

// stepIn looks for a step in rows of one cell that takes 0.1 V of 4.2 V at rest as 10 A come on: 10 mohm.
func stepIn(rows []moment, constant bool) (LogFinding, bool) {
	l := &logScan{cells: 1, idleRows: 1}
	l.idleVolts[0] = 4.2
	l.early[1] = Sample{Voltage: 4.1, Current: 10}
	return l.steps(rows, constant)
}

// However sharp a bend is, and wherever it is between rows, it is no jump from a few rows to the next.
func TestBendIsNoStep(t *testing.T) {
	r := rand.New(rand.NewPCG(14, 1))
	for range 2000 {
		at, before, after := 15+20*r.Float64(), -0.02*r.Float64(), -0.2*r.Float64()
		if r.IntN(2) == 0 {
			before, after = after, before
		}
		rows := rowsOf(50, func(t float64) float64 { return 4 + before*min(t-at, 0) + after*max(t-at, 0) }, func(float64) float64 { return 10 })
		sums := sumsOf(rows, 0)
		lines := jumps(sums.v, rows[0].v, rows, closeWide)
		for k := range lines {
			lines[k].noise = 0
		}
		for near := 1; near <= leastAfter; near++ {
			for k, j := range closeJumps(sums.v, rows[0].v, rows, near, closeWide, lines) {
				if j.surely() > 1 {
					t.Fatalf("slopes of %g and %g V/s, the bend at %g: rows %d+-%d jump by %g V, %g times what bends explain", before, after, at, k, near, j.rise, j.surely())
				}
			}
		}
	}
}

// A voltage that jumps by 75 mV where its slope changes from 3 to 25 mV/s is told, with noise of 5 mV
// and 0.5 % of the current a row. One that only bends there is not.
func TestStepAtTheKnee(t *testing.T) {
	for _, c := range []struct {
		jump  float64
		found bool
	}{{0, false}, {-0.075, true}, {0.075, true}} {
		times := 0
		const tries = 40
		for seed := range uint64(tries) {
			r := rand.New(rand.NewPCG(seed, 2))
			rows := rowsOf(120, func(t float64) float64 {
				v := 3.8 - 0.003*t + 0.005*r.NormFloat64()
				if t > 99.5 {
					v += c.jump - 0.022*(t-99.5)
				}
				return v
			}, func(float64) float64 { return 10 * (1 + 0.005*r.NormFloat64()) })
			if _, ok := stepIn(rows, true); ok {
				times++
			}
		}
		if found := times > tries*8/10; found != c.found || !c.found && times > 0 {
			t.Errorf("a jump of %g V: told in %d of %d, want %v", c.jump, times, tries, c.found)
		}
	}
}

// A row that alone is off is no step, wherever it is.
func TestStrayRowIsNoStep(t *testing.T) {
	for at := 10; at < 110; at += 7 {
		r := rand.New(rand.NewPCG(uint64(at), 6))
		rows := rowsOf(120, func(t float64) float64 {
			v := 3.8 - 0.003*t + 0.002*r.NormFloat64()
			if int(t) == at {
				v += 0.05
			}
			return v
		}, func(float64) float64 { return 10 })
		if f, ok := stepIn(rows, true); ok {
			t.Errorf("row %d is off by 50 mV: %v", at, f)
		}
	}
}

// A current that steps in a ramp is told where the voltage does not follow, even though the voltage alone would not be
// sure: 1 A are 10 mV here, 5 sigmas of its noise. Where the voltage follows there is none.
func TestStepOfTheRampsCurrent(t *testing.T) {
	for _, c := range []struct {
		name    string
		follows float64
		found   bool
	}{{"meter", 0, true}, {"load", 1, false}} {
		times := 0
		const tries = 40
		for seed := range uint64(tries) {
			r := rand.New(rand.NewPCG(seed, 3))
			amps := func(t float64) float64 {
				i := 10 + max(0, t-30)
				if t >= 50 {
					i += 2
				}
				return i
			}
			rows := rowsOf(80, func(t float64) float64 {
				i := 10 + max(0, t-30)
				return 4 - 0.01*(i+c.follows*(amps(t)-i)) - 0.001*t + 0.003*r.NormFloat64()
			}, amps)
			if _, ok := stepIn(rows, false); ok {
				times++
			}
		}
		if found := times > tries*8/10; found != c.found || !c.found && times > 0 {
			t.Errorf("%s: told in %d of %d, want %v", c.name, times, tries, c.found)
		}
	}
}

// What is put back has the noise of the current: in a ramp whose current is noisy, and whose voltage is not, nothing
// steps. A voltage that steps by more than both is told.
func TestNoiseOfTheRampsCurrent(t *testing.T) {
	for _, c := range []struct {
		jump  float64
		found bool
	}{{0, false}, {-0.2, true}} {
		times := 0
		const tries = 60
		for seed := range uint64(tries) {
			r := rand.New(rand.NewPCG(seed, 4))
			truth := func(t float64) float64 { return 10 + max(0, t-60)/2 }
			rows := rowsOf(200, func(t float64) float64 {
				v := 4.1 - 0.01*truth(t) - 0.001*t + 0.004*r.NormFloat64()
				if t > 149 {
					v += c.jump
				}
				return v
			}, func(t float64) float64 { return truth(t) * (1 + 0.01*r.NormFloat64()) })
			if _, ok := stepIn(rows, false); ok {
				times++
			}
		}
		if found := times > tries*8/10; found != c.found || !c.found && times > 0 {
			t.Errorf("a jump of %g V: told in %d of %d, want %v", c.jump, times, tries, c.found)
		}
	}
}

// The noise that is usual is not less than the noise that is, whatever the window: of 4 blocks a side the median of
// the squares is 16 % below their mean.
func TestUsualNoise(t *testing.T) {
	r := rand.New(rand.NewPCG(14, 5))
	rows := rowsOf(20000, func(float64) float64 { return 4 + 0.01*r.NormFloat64() }, func(float64) float64 { return 10 })
	sums := sumsOf(rows, 0)
	for _, m := range []int{4, 6, 12, 25} {
		j := jumps(sums.v, rows[0].v, rows, m)[1000]
		if sigma := math.Sqrt(j.usual); math.Abs(sigma/0.01-1) > 0.03 {
			t.Errorf("%d blocks: a noise of %g V, want 0.01 V", m, sigma)
		}
	}
}
