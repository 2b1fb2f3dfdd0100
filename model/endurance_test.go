package model_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"allup/model"
)

// A movedFlight is a flight, and the same with other rotors and another mass.
type movedFlight struct {
	pack         model.Circuit
	craft, other model.Drive
	m, mass      model.Mass
}

func drawMovedFlight(t *rapid.T) movedFlight {
	f := movedFlight{pack: drawCircuit(t)}
	f.craft = drawCraft(t, f.pack.Cells)
	f.m = drawDry(t) + model.Mass(rapid.Float64Range(20, 120).Draw(t, "pack g"))*model.Gram
	f.other, f.mass = f.craft, f.m*model.Mass(rapid.Float64Range(0.85, 1.15).Draw(t, "part of the mass"))
	for _, u := range f.craft.Rotor.Uncertain() {
		u.Move(&f.other.Rotor, u.Sigma*rapid.Float64Range(-0.5, 0.5).Draw(t, string(u.Input)))
	}
	return f
}

// curve is the endurance about the flight, where there is one.
func (f movedFlight) curve() (c model.Endurance, flight model.Flight, ok bool) {
	flight = f.craft.Fly(f.pack, f.m, usualLanding())
	c, ok = f.craft.Endurance(f.pack, f.m, usualLanding(), &flight, 0.1)
	return c, flight, ok
}

// What the curve says of other masses and rotors is what flights say: within 2 % of what the move changes and 2e-3 of
// the whole.
func TestEnduranceIsFlown(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawMovedFlight(t)
		curve, flight, ok := f.curve()
		if !ok {
			return
		}
		got, amps, ok := curve.Of(f.other, f.mass)
		if !ok {
			return
		}
		want := f.other.Fly(f.pack, f.mass, usualLanding())
		for _, c := range []struct {
			name               string
			got, want, unmoved float64
		}{
			{"time, s", float64(got), float64(want.Duration), float64(flight.Duration)},
			{"current, A", float64(amps), float64(want.Current), float64(flight.Current)},
		} {
			if off := math.Abs(c.got - c.want); off > 0.02*math.Abs(c.want-c.unmoved)+2e-3*c.want {
				t.Errorf("%s: %v by the curve, %v flown, %v before the move", c.name, c.got, c.want, c.unmoved)
			}
		}
	})
}

// The curve answers for a good part of all moves: one that never did would be right in all that it says. The flights
// are the same ones every time.
func TestEnduranceAnswers(t *testing.T) {
	var answers, asked int
	flights := rapid.Custom(drawMovedFlight)
	for seed := range 200 {
		f := flights.Example(seed)
		curve, _, ok := f.curve()
		if !ok {
			continue
		}
		asked++
		if _, _, ok := curve.Of(f.other, f.mass); ok {
			answers++
		}
	}
	t.Logf("%d of %d", answers, asked)
	if 3*answers < asked || asked < 100 {
		t.Errorf("the curve answers %d of %d", answers, asked)
	}
}

// A curve says that it does not hold where a load is beyond its reach, or where nothing flies.
func TestEnduranceHasAReach(t *testing.T) {
	pack := steadyCircuit(curveOf(t, model.LiPo), 4, 650, 0.012)
	craft, m := workedCraft(t), 200*model.Gram
	flight := craft.Fly(pack, m, usualLanding())
	curve, ok := craft.Endurance(pack, m, usualLanding(), &flight, 0.1)
	if !ok {
		t.Fatal("no curve about a usual hover")
	}
	if got, _, ok := curve.Of(craft, m); !ok || math.Abs(float64(got/flight.Duration)-1) > 1e-9 {
		t.Errorf("unmoved it says %v s, flown %v s", got, flight.Duration)
	}
	if _, _, ok := curve.Of(craft, 1.2*m); ok {
		t.Error("a hover with 30 % more power is within a reach of 10 %")
	}
	if _, ok := craft.Endurance(pack, m, usualLanding(), &model.Flight{}, 0.1); ok {
		t.Error("a curve about a flight of no time")
	}
}
