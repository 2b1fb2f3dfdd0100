package model

import "math"

// Follow is the loaded voltage of the circuit, from full and at rest, at each point of a trace under the
// trace's own current, which runs in straight lines from point to point and is that of the first before it. The
// charge left is that of the trace's delivered charge; the pack warms itself along it. A drawing lays it over
// the trace to show what a fit misses.
func (c Circuit) Follow(t Trace) []Voltage {
	f := newFollower(c)
	out := make([]Voltage, len(t.Points))
	for k, p := range t.Points {
		f.to(float64(p.Time), float64(p.Current), float64(p.Delivered/c.Capacity))
		out[k] = c.OpenVoltage(1-float64(p.Delivered/c.Capacity)) - Voltage(f.v1+f.r0*f.factor*f.before)
	}
	return out
}

// follower is a circuit that is led along currents that somebody else measured.
type follower struct {
	body
	t, v1, temp, factor, before float64
	begun                       bool
}

func newFollower(c Circuit) follower {
	f := follower{body: newBody(c)}
	f.temp = f.start
	return f
}

// to goes on to a time, at which a current flows and a part of the charge is gone. The step is exact in the RC element
// for a voltage over R1 that changes linearly; its heat is that of the mean current and the state before.
func (f *follower) to(t, i, gone float64) {
	if !f.begun {
		f.begun, f.before, f.factor = true, i, f.body.factor(1, f.temp)
	}
	was := f.factor
	if dt := t - f.t; dt > 0 {
		phi := math.Exp(-dt / f.tau)
		from := f.r1 * was * f.before
		if f.varies {
			mean := (i + f.before) / 2
			settled := f.r1 * was * mean
			f.temp = f.warm(f.temp, f.heat(mean, settled+(f.v1-settled)*(1-phi)*f.tau/dt, was), dt)
		}
		f.factor = f.body.factor(1-gone, f.temp)
		rise := f.r1*f.factor*i - from
		f.v1 = f.v1*phi + from*(1-phi) + rise*(1-(1-phi)*f.tau/dt)
	} else {
		f.factor = f.body.factor(1-gone, f.temp)
	}
	f.before, f.t = i, t
}
