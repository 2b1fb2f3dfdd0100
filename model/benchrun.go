package model

import (
	"math"
	"math/rand/v2"
)

// BenchRun is how a bench logs a test: the rows before and after the load, their
// rate, and the noise of its meters. The load comes on at the last row before it. The zero value logs at 10 Hz, without noise, with 2 s
// of rest before and after.
type BenchRun struct {
	Interval     Time    // between rows; 0: 0.1 s
	Rest         Time    // before and after the load; 0: 2 s, negative: none
	VoltageNoise Voltage // one sigma, of the pack
	CurrentNoise float64 // one sigma, relative
	Source       rand.Source
}

// BenchDischarge is the log of a discharge of the circuit from full under a load,
// down to the first row at an end voltage per cell, where the tester stops.
func (c Circuit) BenchDischarge(load Load, end Voltage, run BenchRun) []Sample {
	return c.bench(run, end, func(_, e, r0 float64) float64 {
		if load.power == 0 {
			return load.current
		}
		// The smaller root of P = (E - R0 I) I; where there is none, the current of the greatest power.
		return 2 * load.power / (e + math.Sqrt(max(0, e*e-4*r0*load.power)))
	})
}

// BenchBurst is the log of a burst test of the circuit from full: conditioning, then
// the ramp until the burst end voltage.
func (c Circuit) BenchBurst(p Protocol, run BenchRun) []Sample {
	return c.bench(run, p.BurstEndPerCell, func(t, _, _ float64) float64 {
		return float64(p.ConditioningCurrent) + p.Ramp*max(0, t-float64(p.ConditioningTime))
	})
}

// bench steps the circuit at a fraction of the rows' interval; current gives the load
// at a time from load on and a voltage behind R0, and R0. It stops when the end voltage is met
// or nothing is left.
func (c Circuit) bench(run BenchRun, end Voltage, current func(t, e, r0 float64) float64) []Sample {
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
	b := newBody(c)
	tau := b.tau
	stop := n * float64(end)
	s, v1, temp := 1.0, 0.0, b.start
	emf := func() float64 { return n*(float64(c.Curve.At(s))+float64(c.Shift)) - v1 }

	var log []Sample
	row := 0
	put := func(v, i float64) {
		log = append(log, Sample{
			Time:    Time(float64(row) * interval),
			Voltage: Voltage(v + float64(run.VoltageNoise)*normal()),
			Current: Current(i * (1 + run.CurrentNoise*normal())),
			Line:    row + 2,
		})
		row++
	}
	idle := int(math.Round(rest / interval))
	for range idle {
		put(emf(), 0)
	}
	f := b.factor(s, temp)
	i := current(0, emf(), b.r0*f)
	dt := interval / substeps
	phi := math.Exp(-dt / tau)
	for k := 0; s > 0; k++ {
		v := emf() - b.r0*f*i
		if k%substeps == 0 && (k > 0 || idle == 0) {
			put(v, i)
			if v <= stop {
				break
			}
		}
		// The current at the step's end from the one at its start, then both halves of it.
		s0, v0, f0 := s, v1, f
		next := i
		temp = b.warm(temp, b.heat(i, v1, f), dt)
		for range 2 {
			s = s0 - (i+next)/2*dt/q
			f = b.factor(s, temp)
			v1 = v0*phi + b.r1*(f*next-f0*i*phi-(f*next-f0*i)*(1-phi)*tau/dt)
			next = current(float64(k+1)*dt, emf(), b.r0*f)
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
