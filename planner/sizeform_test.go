package planner

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"

	"allup/catalog"
	"allup/model"
)

// idealSizing is a build whose flight time has a closed form over its pack's mass: constant efficiencies, a pack of
// constant voltage and no resistance, all of its mass energy.
func idealSizing(t *testing.T, gear model.Power) (*Sizing, SizedFamily) {
	t.Helper()
	prop, err := model.NewPropeller(3.5*model.Inch, 2.5*model.Inch, 3, model.FromCoefficients, []model.StaticPoint{{CT: 0.15, CP: 0.08}})
	if err != nil {
		t.Fatal(err)
	}
	flat, err := model.EvenCurve([]model.Voltage{3.8, 3.8})
	if err != nil {
		t.Fatal(err)
	}
	plan := &Plan{
		Build:     &catalog.Build{Limit: catalog.BuildLimit{Limit: model.Limit{Mass: 250 * model.Gram}}},
		Selection: Selection{Frame: &catalog.Frame{}}, Dry: 0.1,
		Drive: model.Drive{Rotors: 4, GearPower: gear, Rotor: model.Rotor{
			Propeller: prop, Motor: model.Motor{Kv: 3600 * model.RPMPerVolt}, Controller: model.Controller{Efficiency: 1}, Air: 1.2,
		}},
		Mission: model.Mission{Landing: model.Landing{PerCell: 3, Reserve: 0.2}, PunchCharge: 0.8},
	}
	s := &Sizing{Plan: plan}
	s.bound(nil)
	family := model.PackFamily{Cells: 4, Curve: flat, EnergyPerMass: 400e3, ChargePerWork: 1 / 15.2}
	return s, SizedFamily{Name: "median", Family: family}
}

// With constant specific energy, power as mass^1.5 and nothing else on the bus the time goes as k/(1 + k)^1.5
// over k, the pack's mass in times everything else: greatest at k = 2, and 0.7071, 0.9186 and 0.9743 of that at
// 0.5, 1 and 3 (derived: d/dk of ln k - 1.5 ln(1 + k) is 0 at k = 2).
func TestFreeOptimumIsTwiceTheRest(t *testing.T) {
	s, f := idealSizing(t, 0)
	s.size(&f)
	if !scalar.EqualWithinRel(float64(f.Free.Pack), 0.2, 1e-3) {
		t.Errorf("the free optimum is a pack of %.3f g, want 200 g", f.Free.Pack.Grams())
	}
	for k, want := range map[float64]float64{0.25: 0.4648, 0.5: 0.7071, 1: 0.9186, 1.5: 0.9859, 3: 0.9743, 4: 0.9295} {
		got := float64(s.at(f.Family, model.Mass(0.1*k), 0, s.Plan.Mission).Time / f.Free.Time)
		if math.Abs(got-want) > 1e-4 {
			t.Errorf("at %g times the rest the time is %.4f of the best, want %.4f", k, got, want)
		}
	}
	// Under 250 g the pack may weigh 150 g; a gram of dead mass there costs 1.5/250 of the time, one of
	// pack is worth 1/150 less that.
	if f.Limited == nil || f.Binds != BindsLimit {
		t.Fatalf("binds %q, limited %v; want the limit", f.Binds, f.Limited)
	}
	if got := f.Limited.Pack.Grams(); math.Abs(got-150) > 0.01 {
		t.Errorf("under the limit the pack weighs %.3f g, want 150 g", got)
	}
	time := float64(f.Limited.Time)
	if got, want := float64(f.Worth.Dead), -1.5/250*time; !scalar.EqualWithinRel(got, want, 1e-3) {
		t.Errorf("a dead gram is worth %.4f s, want %.4f s", got, want)
	}
	if got, want := float64(f.Worth.Pack), (1./150-1.5/250)*time; !scalar.EqualWithinRel(got, want, 1e-2) {
		t.Errorf("a gram of pack is worth %.4f s, want %.4f s", got, want)
	}
}

// Where the limit leaves more than the free optimum nothing binds, and both are one size.
func TestNothingBinds(t *testing.T) {
	s, f := idealSizing(t, 0)
	s.Plan.Build.Limit.Mass = 400 * model.Gram
	s.bound(nil)
	s.size(&f)
	if f.Limited == nil || f.Binds != BindsNothing || math.Abs(f.Limited.Pack.Grams()-200) > 0.5 {
		t.Errorf("binds %q, limited %+v; want nothing, and 200 g", f.Binds, f.Limited)
	}
}

// Power that the gear takes whatever the mass moves the optimum above twice the rest.
func TestGearPowerMovesTheOptimumUp(t *testing.T) {
	s, f := idealSizing(t, 5)
	s.size(&f)
	// k (dP/dk)/P = 1 with P = c (1 + k)^1.5 + g: 1.5 k c (1 + k)^0.5 = c (1 + k)^1.5 + g, solved here by bisection.
	c := float64(s.Plan.Drive.Hover(0.1, 15).Power) - 5
	low, high := 2.0, 50.0
	for range 100 {
		k := (low + high) / 2
		if 1.5*k*c*math.Sqrt(1+k) < c*math.Pow(1+k, 1.5)+5 {
			low = k
		} else {
			high = k
		}
	}
	if got := float64(f.Free.Pack) / 0.1; got < 2.01 || !scalar.EqualWithinRel(got, low, 1e-3) {
		t.Errorf("the free optimum is %.4f times the rest, want %.4f", got, low)
	}
}

// The smallest acceptable punch binds where the best size under the limit punches less.
func TestPunchFloorBinds(t *testing.T) {
	s, f := idealSizing(t, 0)
	s.size(&f)
	s.LeastPunch = f.Limited.Punch * 1.25
	s.size(&f)
	if f.Limited == nil || f.Binds != BindsPunch {
		t.Fatalf("binds %q, want the punch floor", f.Binds)
	}
	// The thrust is the same at any mass: 1.25 times the ratio is 250/1.25 g in all.
	if got := f.Limited.Mass.Grams(); math.Abs(got-200) > 0.1 {
		t.Errorf("%.3f g all-up, want 200 g", got)
	}
	s.LeastPunch = 1e6
	s.size(&f)
	if f.Limited != nil && f.Limited.Punch < 1e6 {
		t.Errorf("a floor that nothing reaches leaves %+v", f.Limited)
	}
}

// A dead gram costs 1.5/m of the time where nothing else is on the bus, so capacity, power and nothing but mass
// move its worth as they move the time: with a scatter of 5 % in capacity, 2 % from unit to unit and nothing
// else unknown the band is 1.645 hypot(5, 2) % either way, and a figure of merit that is known to 6 % adds its
// own (derived).
func TestBandOfAGramsWorth(t *testing.T) {
	s, f := idealSizing(t, 0)
	f.Family.ScatterQ = 0.05
	s.size(&f)
	time := float64(f.Limited.Time)
	dead := -1.5 / 250 * time
	for _, c := range []struct {
		name   string
		sigmas []float64
	}{{"capacity", []float64{0.05, 0.02}}, {"capacity and figure of merit", []float64{0.05, 0.02, 0.06}}} {
		if len(c.sigmas) > 2 {
			m := movedRotor{s.Plan.Drive.Rotor, s.Plan.Drive.Rotor}
			m.up.Propeller = m.up.Propeller.Scaled(1, 1/1.06)
			m.down.Propeller = m.down.Propeller.Scaled(1, 1/0.94)
			s.Plan.moved = []movedRotor{m}
			s.size(&f)
		}
		var sum float64
		for _, sigma := range c.sigmas {
			sum += sigma * sigma
		}
		half := z95 * math.Sqrt(sum) * -dead
		got := f.Worth.DeadBand
		if !scalar.EqualWithinRel(dead-got.Low, half, 5e-3) || !scalar.EqualWithinRel(got.High-dead, half, 5e-3) {
			t.Errorf("%s: a dead gram is worth %.4f to %.4f s, want %.4f +- %.4f s", c.name, got.Low, got.High, dead, half)
		}
		// The time itself moves by the same part of it.
		half = z95 * math.Sqrt(sum) * time
		if b := f.Worth.TimeBand; !scalar.EqualWithinRel(time-b.Low, half, 5e-3) || !scalar.EqualWithinRel(b.High-time, half, 5e-3) {
			t.Errorf("%s: %.2f s has the band %v, want +- %.2f s", c.name, time, b, half)
		}
		if p := f.Worth.PackBand; !(p.Low < float64(f.Worth.Pack) && float64(f.Worth.Pack) < p.High) {
			t.Errorf("%s: a gram of pack is worth %.4f s, its band is %.4f to %.4f s", c.name, f.Worth.Pack, p.Low, p.High)
		}
	}
}
