package model_test

import (
	"errors"
	"fmt"
	"math"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"allup/model"
)

// simulatedMetrics are the figures that tests of a circuit yield, by running them.
func simulatedMetrics(c model.Circuit, p model.Protocol) model.TestedMetrics {
	load := model.ConstantPower(p.DischargePower)
	if p.DischargePower == 0 {
		load = model.ConstantCurrent(p.DischargeCurrent)
	}
	d, b := c.Discharge(load, model.Stop{PerCell: p.DischargeEndPerCell}), c.BurstTest(p)
	return model.TestedMetrics{
		Protocol: p, Capacity: d.Delivered, Energy: d.Energy, MidVoltage: d.MidVoltage, BurstPower: b.Power, BurstCurrent: b.Current,
	}
}

// drawProtocol is the usual protocol of a rated capacity near to the true one, or a gentler one
// at constant current.
func drawProtocol(t *rapid.T, c model.Circuit) model.Protocol {
	p := model.UsualProtocol(c.Capacity*model.Charge(rapid.Float64Range(0.9, 1.2).Draw(t, "rated over true")), c.Cells)
	if rapid.Bool().Draw(t, "constant current") {
		p.DischargePower, p.DischargeCurrent = 0, p.ConditioningCurrent/3
		p.DischargeEndPerCell, p.ConditioningTime = 3.0, 20
	}
	return p
}

// tooWeak reports that a circuit's tests do not fix it: the capacity test ended with charge
// left that it says nothing of (a larger pack of less resistance delivers the same), or the
// burst test ended empty or before its ramp.
func tooWeak(c model.Circuit, m model.TestedMetrics) bool {
	b := c.BurstTest(m.Protocol)
	return m.Capacity < 0.85*c.Capacity || !b.InRamp || b.ChargeLeft < 0.02
}

// A circuit's own tests give it back, whichever of the allowed metrics are there. Its shift is
// zero, where the prior on it has no pull.
func TestIdentifyRoundTripOfEveryMetric(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCircuit(t)
		c.Shift = 0
		p := drawProtocol(t, c)
		m := simulatedMetrics(c, p)
		if tooWeak(c, m) {
			t.Skip("a pack too weak for its test")
		}
		for mask := range 32 {
			some := model.TestedMetrics{Protocol: p}
			if mask&1 != 0 {
				some.Capacity = m.Capacity
			}
			if mask&2 != 0 {
				some.Energy = m.Energy
			}
			if mask&4 != 0 {
				some.MidVoltage = m.MidVoltage
			}
			if mask&8 != 0 {
				some.BurstPower = m.BurstPower
			}
			if mask&16 != 0 {
				some.BurstCurrent = m.BurstCurrent
			}
			if mask&3 == 0 || mask&24 == 0 {
				if _, err := model.Identify(model.Circuit{Cells: c.Cells, Curve: c.Curve}, some); !errors.Is(err, model.ErrTooFewMetrics) {
					t.Errorf("Identify(%+v) = %v, want ErrTooFewMetrics", some, err)
				}
				continue
			}
			id := identifyMetrics(t, c.Cells, c.Curve, some)
			// Power and current of the burst are one figure.
			want := []string{"capacity", "energy", "mid voltage", "burst power", "shift"}
			have := []bool{mask&1 != 0, mask&2 != 0, mask&4 != 0, true, true}
			if mask&8 == 0 {
				want[3] = "burst current"
			}
			i := 0
			for j, metric := range want {
				if !have[j] {
					continue
				}
				if i >= len(id.Residuals) || id.Residuals[i].Metric != metric {
					t.Fatalf("residuals of metrics %05b are %v, want one of %q at %d", mask, id.Residuals, metric, i)
				}
				i++
			}
			// Convergence is to a millionth of the cost; 1e-4 is far below a sigma of anything.
			near(t, "capacity", id.Circuit.Capacity, float64(c.Capacity), 1e-4)
			near(t, "R0", id.Circuit.R0, float64(c.R0), 1e-4)
			near(t, "R1", id.Circuit.R1, float64(c.R1), 1e-4)
			within(t, "shift", id.Circuit.Shift, 0, 1e-5)
			for _, r := range id.Residuals {
				within(t, "residual of "+r.Metric, r.Sigma, 0, 0.01)
			}
			if _, doubtful := id.Doubtful(); doubtful {
				t.Errorf("metrics of one circuit are doubtful: %v", id.Residuals)
			}
		}
	})
}

// With a shift the prior pulls a little: by less than a sigma of every metric.
func TestIdentifyShiftedCircuits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCircuit(t)
		p := model.UsualProtocol(c.Capacity, c.Cells)
		m := simulatedMetrics(c, p)
		if tooWeak(c, m) {
			t.Skip("a pack too weak for its test")
		}
		id := identifyMetrics(t, c.Cells, c.Curve, m)
		for _, r := range id.Residuals {
			if r.Metric != "shift" && math.Abs(r.Sigma) > 1 {
				t.Errorf("residual of %s = %v sigma", r.Metric, r.Sigma)
			}
		}
		if s := float64(id.Circuit.Shift); s*float64(c.Shift) < 0 && math.Abs(s) > 1e-5 || math.Abs(s) > math.Abs(float64(c.Shift))+1e-5 {
			t.Errorf("shift = %v, want one between 0 and %v", s, c.Shift)
		}
	})
}

// The optimum is one: no small step of any parameter, in any direction of the three, lowers
// the sum of squares. The sum is made here, of the tests as run.
func TestIdentifyIsAnOptimum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := workedMetrics()
		m.Capacity *= model.Charge(rapid.Float64Range(0.95, 1.05).Draw(t, "capacity"))
		m.Energy *= model.Energy(rapid.Float64Range(0.95, 1.05).Draw(t, "energy"))
		m.MidVoltage *= model.Voltage(rapid.Float64Range(0.98, 1.02).Draw(t, "mid"))
		m.BurstPower *= model.Power(rapid.Float64Range(0.7, 1.4).Draw(t, "burst"))
		id := identifyMetrics(t, 4, curveOf(t, model.LiPo), m)
		cost := func(c model.Circuit) float64 {
			sim := simulatedMetrics(c, m.Protocol)
			q := (float64(sim.Capacity/m.Capacity) - 1) / 0.01
			e := (float64(sim.Energy/m.Energy) - 1) / 0.01
			v := (float64(sim.MidVoltage/m.MidVoltage) - 1) / 0.003
			b := (float64(sim.BurstPower/m.BurstPower) - 1) / 0.03
			s := float64(c.Shift) / 0.020
			return q*q + e*e + v*v + b*b + s*s
		}
		best := cost(id.Circuit)
		var sum float64
		for _, r := range id.Residuals {
			sum += r.Sigma * r.Sigma
		}
		near(t, "sum of squares of the residuals", sum, best, 1e-9)
		for _, step := range [][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}, {1, 1, 0}, {1, -1, 0}, {0, 1, 1}, {0, 1, -1}, {1, 0, 1}, {1, 0, -1}} {
			for _, sign := range []float64{-1, 1} {
				c := id.Circuit
				c.Capacity *= model.Charge(1 + sign*0.002*step[0])
				r := model.Resistance(1 + sign*0.01*step[1])
				c.R0, c.R1 = c.R0*r, c.R1*r
				c.Shift += model.Voltage(sign * 0.002 * step[2])
				if got := cost(c); got < best {
					t.Errorf("sum of squares %v at the optimum, %v after a step of %v in %v", best, got, sign, step)
				}
			}
		}
	})
}

// Metrics that contradict each other by far are met as nearly as any circuit meets them, or one as near: none
// of a net about the answer and over all resistances is much nearer, though such sums of squares have more than
// one valley.
func TestIdentifyOfContradictionsIsNearest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := workedMetrics()
		m.Energy *= model.Energy(rapid.Float64Range(0.8, 1.25).Draw(t, "energy"))
		m.MidVoltage *= model.Voltage(rapid.Float64Range(0.93, 1.05).Draw(t, "mid"))
		m.BurstPower *= model.Power(rapid.Float64Range(0.3, 3).Draw(t, "burst"))
		id := identifyMetrics(t, 4, curveOf(t, model.LiPo), m)
		cost := func(c model.Circuit) (sum float64) {
			for _, r := range model.MetricResiduals(c, m) {
				sum += r.Sigma * r.Sigma
			}
			return sum + float64(c.Shift/model.SigmaShift*c.Shift/model.SigmaShift)
		}
		best := cost(id.Circuit)
		for _, q := range []float64{0.98, 1, 1.02} {
			for _, r := range []float64{0.3, 0.6, 0.9, 0.97, 1, 1.03, 1.1, 1.5, 3} {
				for _, shift := range []float64{-0.02, -0.004, 0, 0.004, 0.02} {
					c := id.Circuit
					c.Capacity *= model.Charge(q)
					c.R0, c.R1 = c.R0*model.Resistance(r), c.R1*model.Resistance(r)
					c.Shift += model.Voltage(shift)
					if got := cost(c); got < 0.95*best-1 {
						t.Errorf("sum of squares %.1f, and %.1f with %g of the capacity, %g of the resistance and %g V of shift more", best, got, q, r, shift)
					}
				}
			}
		}
	})
}

func TestIdentifyContradictions(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*model.TestedMetrics)
		want   []string // any of the metrics that contradict each other
	}{
		{"energy of a pack of twice the size", func(m *model.TestedMetrics) { m.Energy *= 1.3 }, []string{"energy", "capacity"}},
		{"capacity of a pack of twice the size", func(m *model.TestedMetrics) { m.Capacity *= 1.5 }, []string{"energy", "capacity"}},
		{"burst of another pack", func(m *model.TestedMetrics) { m.BurstPower *= 2.8 }, []string{"burst power"}},
		{"burst current of another pack", func(m *model.TestedMetrics) { m.BurstPower, m.BurstCurrent = 0, 110 }, []string{"burst current"}},
		{"mid voltage above that at rest", func(m *model.TestedMetrics) { m.MidVoltage = 16.6 }, []string{"mid voltage", "shift"}},
	} {
		m := workedMetrics()
		if worst, doubtful := identifyMetrics(t, 4, curveOf(t, model.LiPo), m).Doubtful(); doubtful {
			t.Fatalf("the worked example is doubtful: %v", worst)
		}
		c.change(&m)
		worst, doubtful := identifyMetrics(t, 4, curveOf(t, model.LiPo), m).Doubtful()
		named := false
		for _, metric := range c.want {
			named = named || worst.Metric == metric
		}
		if !doubtful || !named || !(math.Abs(worst.Sigma) > 3) {
			t.Errorf("%s: Doubtful() = %v, %v; want one of %v beyond 3 sigma", c.name, worst, doubtful, c.want)
		}
	}
}

func TestIdentifyRefuses(t *testing.T) {
	curve := curveOf(t, model.LiPo)
	nan := math.NaN()
	for _, c := range []struct {
		name   string
		cells  int
		change func(*model.TestedMetrics)
		want   string
	}{
		{"nothing", 4, func(m *model.TestedMetrics) { *m = model.TestedMetrics{Protocol: m.Protocol} }, model.ErrTooFewMetrics.Error()},
		{"mid voltage and burst only", 4, func(m *model.TestedMetrics) { m.Capacity, m.Energy = 0, 0 }, model.ErrTooFewMetrics.Error()},
		{"no burst", 4, func(m *model.TestedMetrics) { m.BurstPower = 0 }, model.ErrTooFewMetrics.Error()},
		{"NaN", 4, func(m *model.TestedMetrics) {
			m.Capacity, m.Energy = model.Charge(nan), model.Energy(nan)
		}, model.ErrTooFewMetrics.Error()},
		{"no cells", 0, func(*model.TestedMetrics) {}, "a pack has one cell or more, not 0"},
		{"no load", 4, func(m *model.TestedMetrics) { m.Protocol.DischargePower = 0 }, "the discharge test has neither a power nor a current"},
		{"no burst end", 4, func(m *model.TestedMetrics) { m.Protocol.BurstEndPerCell = 0 }, "the burst test has no end voltage"},
		{"no ramp", 4, func(m *model.TestedMetrics) { m.Protocol.Ramp = 0 }, "the burst test has no current ramp"},
	} {
		m := workedMetrics()
		c.change(&m)
		id, err := model.Identify(model.Circuit{Cells: c.cells, Curve: curve}, m)
		if err == nil || err.Error() != c.want {
			t.Errorf("%s: Identify = %+v, %v; want the error %q", c.name, id, err, c.want)
		}
	}
}

// Whatever positive figures are typed in, the answer is a circuit of numbers that can be flown.
func TestIdentifyIsFinite(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		wild := func(name string) float64 { return math.Pow(10, rapid.Float64Range(-5, 6).Draw(t, name)) }
		cells := rapid.IntRange(1, 8).Draw(t, "cells")
		p := model.UsualProtocol(model.Charge(rapid.Float64Range(1, 5000).Draw(t, "rated")), cells)
		if rapid.Bool().Draw(t, "wild protocol") {
			p = model.Protocol{
				DischargePower: model.Power(wild("W")), DischargeEndPerCell: model.Voltage(wild("end")), BurstEndPerCell: model.Voltage(wild("burst end")),
				ConditioningCurrent: model.Current(wild("A")), ConditioningTime: model.Time(wild("s")), Ramp: wild("A/s"),
			}
			if rapid.Bool().Draw(t, "constant current") {
				p.DischargePower, p.DischargeCurrent = 0, model.Current(wild("discharge A"))
			}
		}
		m := model.TestedMetrics{
			Protocol: p, Capacity: model.Charge(wild("capacity")), Energy: model.Energy(wild("energy")), MidVoltage: model.Voltage(wild("mid")), BurstPower: model.Power(wild("burst W")),
		}
		if rapid.Bool().Draw(t, "burst current") {
			m.BurstPower, m.BurstCurrent = 0, model.Current(wild("burst A"))
		}
		curve := curveOf(t, rapid.SampledFrom(model.Chemistries()).Draw(t, "chemistry"))
		id, err := model.Identify(model.Circuit{Cells: cells, Curve: curve}, m)
		if err != nil {
			return // refused with a reason
		}
		c := id.Circuit
		finite(t, "circuit", float64(c.Capacity), float64(c.R0), float64(c.R1), float64(c.Shift))
		if !(c.Capacity > 0) || !(c.R0 > 0) || !(c.R1 > 0) || !(c.OpenVoltage(0) > 0) {
			t.Errorf("circuit %v, %v, %v, %v empty: want all positive", c.Capacity, c.R0, c.R1, c.OpenVoltage(0))
		}
		for _, r := range id.Residuals {
			finite(t, "residual of "+r.Metric, r.Sigma)
		}
		d := c.Discharge(model.ConstantPower(model.Power(wild("load"))), model.Stop{PerCell: 3.3})
		finite(t, "discharge", float64(d.Duration), float64(d.Energy), float64(d.StartVoltage), float64(d.MidVoltage), float64(d.EndCurrent))
	})
}

// The same metrics give the same bits, in one goroutine or many.
func TestIdentifyIsDeterministic(t *testing.T) {
	curve := curveOf(t, model.LiHV)
	m := workedMetrics()
	want := fmt.Sprintf("%x", identifyMetrics(t, 4, curve, m))
	var wg sync.WaitGroup
	got := make([]string, 16)
	for i := range got {
		wg.Go(func() {
			if id, err := model.Identify(model.Circuit{Cells: 4, Curve: curve}, m); err == nil {
				got[i] = fmt.Sprintf("%x", id)
			}
		})
	}
	wg.Wait()
	for i := range got {
		if diff := cmp.Diff(want, got[i]); diff != "" {
			t.Errorf("run %d differs (-first +this):\n%s", i, diff)
		}
	}
}
