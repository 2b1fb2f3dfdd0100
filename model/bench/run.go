package bench

import (
	"math"
	"math/rand/v2"

	"allup/model"
)

// Run is how a bench logs a test: the rows before and after the load, their
// rate, and the noise of its meters. The load comes on at the last row before it. The zero
// value logs at 10 Hz, without noise, with 2 s of rest before and after.
type Run struct {
	Interval     model.Time    // between rows; 0: 0.1 s
	Rest         model.Time    // before and after the load; 0: 2 s, negative: none
	VoltageNoise model.Voltage // one sigma, of the pack
	CurrentNoise float64       // one sigma, relative
	Source       rand.Source
}

// Discharge is the log of a discharge of a circuit from full under a load, down to the
// first row at an end voltage per cell, where the tester stops.
func (run Run) Discharge(c model.Circuit, load model.Load, end model.Voltage) []Sample {
	return run.log(c, end, func(_, e, r0 float64) float64 { return float64(load.Current(model.Voltage(e), model.Resistance(r0))) })
}

// Burst is the log of a burst test of a circuit from full: conditioning, then the ramp
// until the burst end voltage.
func (run Run) Burst(c model.Circuit, p model.Protocol) []Sample {
	return run.log(c, p.BurstEndPerCell, func(t, _, _ float64) float64 {
		return float64(p.ConditioningCurrent) + p.Ramp*max(0, t-float64(p.ConditioningTime))
	})
}

// log steps the circuit at a fraction of the rows' interval; current gives the load
// at a time from load on and a voltage behind R0, and R0. It stops when the end voltage is met
// or nothing is left.
func (run Run) log(c model.Circuit, end model.Voltage, current func(t, e, r0 float64) float64) []Sample {
	const substeps = 20
	interval, rest := float64(run.Interval), float64(run.Rest)
	if interval == 0 {
		interval = 0.1
	}
	switch {
	case rest == 0:
		rest = 2
	case rest < 0:
		rest = 0
	}
	normal := func() float64 { return 0 }
	if run.Source != nil {
		normal = rand.New(run.Source).NormFloat64
	}
	n, q := float64(c.Cells), float64(c.Capacity)
	if !(c.Tau > 0) {
		// An RC element that settles at once is a part of R0.
		c.R0, c.R1, c.Tau = c.R0+c.R1, 0, 1
	}
	tau := float64(c.Tau)
	temperature := c.StartTemperature()
	resistances := func(s float64) (r0, r1 float64) {
		a, b := c.Resistances(s, temperature)
		return float64(a), float64(b)
	}
	stop := n * float64(end)
	s, v1 := 1.0, 0.0
	emf := func() float64 { return n*(float64(c.Curve.At(s))+float64(c.Shift)) - v1 }

	var log []Sample
	row := 0
	put := func(v, i float64) {
		log = append(log, Sample{
			Time:    model.Time(float64(row) * interval),
			Voltage: model.Voltage(v + float64(run.VoltageNoise)*normal()),
			Current: model.Current(i * (1 + run.CurrentNoise*normal())),
			Line:    row + 2,
		})
		row++
	}
	idle := int(math.Round(rest / interval))
	for range idle {
		put(emf(), 0)
	}
	r0, r1 := resistances(s)
	i := current(0, emf(), r0)
	dt := interval / substeps
	phi := math.Exp(-dt / tau)
	for k := 0; s > 0; k++ {
		v := emf() - r0*i
		if k%substeps == 0 && (k > 0 || idle == 0) {
			put(v, i)
			if v <= stop {
				break
			}
		}
		// The current at the step's end from the one at its start, then both halves of it.
		s0, v0, settled := s, v1, r1*i
		heat := r0 * i * i
		if r1 > 0 {
			heat += v1 * v1 / r1
		}
		temperature = c.Warmed(temperature, model.Power(heat), model.Time(dt))
		next := i
		for range 2 {
			s = s0 - (i+next)/2*dt/q
			r0, r1 = resistances(s)
			v1 = v0*phi + r1*next - settled*phi - (r1*next-settled)*(1-phi)*tau/dt
			next = current(float64(k+1)*dt, emf(), r0)
		}
		i = next
	}
	for range idle {
		for range substeps {
			v1 *= phi
		}
		put(emf(), 0)
	}
	return log
}
