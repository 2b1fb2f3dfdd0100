package model_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"allup/model"
)

// phaseCraft and phasePack are worked-example.md's, with its identified circuit.
func phaseCraft(t testing.TB) model.Drive {
	t.Helper()
	r := standRotor(t)
	r.Air = 1.134419
	r.Controller = model.Controller{Efficiency: 0.95}
	return model.Drive{Rotors: 4, Rotor: r, GearPower: 7, ThrustLoss: 1 - 1/1.02}
}

func phasePack(t testing.TB) model.Circuit {
	t.Helper()
	curve, err := model.CurveOf(model.LiPo)
	if err != nil {
		t.Fatal(err)
	}
	return model.Circuit{Cells: 4, Curve: curve, Capacity: 646.5 * model.MilliAmpH, R0: 0.03585, R1: 0.01930, Tau: 20, Shift: -0.0093}
}

const phaseMass = 238.4 * model.Gram

func TestPhasesOfHoverAloneAreTheHover(t *testing.T) {
	craft, pack := phaseCraft(t), phasePack(t)
	for _, rule := range []model.Landing{{PerCell: 3.5, Reserve: 0.2}, {PerCell: 3.5}, {PerCell: 3.7, Reserve: 0.1}, {Reserve: 0.2}, {PerCell: 2.5, Reserve: 0.05}} {
		for _, phases := range [][]model.Phase{nil, {{Duration: 20, Thrust: 1}}, {{Duration: 1e6, Thrust: 1}}, {{Duration: 7, Thrust: 1}, {Duration: 0.3, Thrust: 1}}, {{Full: true}}} {
			want := craft.Fly(pack, phaseMass, rule)
			got := craft.FlyPhases(pack, phaseMass, rule, phases)
			for _, c := range []struct {
				name      string
				got, want float64
			}{{"duration", float64(got.Duration), float64(want.Duration)}, {"energy", float64(got.Usable), float64(want.Usable)}, {"charge used", 1 - got.ChargeLeft, 1 - want.ChargeLeft}} {
				if math.Abs(c.got-c.want) > 1e-4*c.want+1e-9 {
					t.Errorf("%+v, %+v: %s = %.8g, want %.8g as in hover", rule, phases, c.name, c.got, c.want)
				}
			}
			if got.EndedBy != want.EndedBy || got.ThrottleBound != want.ThrottleBound {
				t.Errorf("%+v, %+v: ended by %s (throttle bound %v), want %s (%v)", rule, phases, got.EndedBy, got.ThrottleBound, want.EndedBy, want.ThrottleBound)
			}
		}
	}
}

// The oracle steps the circuit's equations by Euler's rule in time, with the coupled full throttle
// solved by bisection, and shares no code with the simulator.
func TestPhasesMeetSmallSteps(t *testing.T) {
	craft, pack := phaseCraft(t), phasePack(t)
	phases := []model.Phase{{Duration: 15, Thrust: 1.25}, {Duration: 2, Full: true}, {Duration: 10, Thrust: 1}}
	rule := model.Landing{PerCell: 3.4, Reserve: 0.15}
	got := craft.FlyPhases(pack, phaseMass, rule, phases)

	const dt = 1e-3
	const kv, rm, i0, ct, cp, eta, d, rho = 3600 * 2 * math.Pi / 60, 0.120, 0.60, 0.150, 0.080, 0.95, 3.5 * 0.0254, 1.134419
	motor := func(w float64) (volts, watts float64) {
		n := w / (2 * math.Pi)
		i := kv*cp*rho*n*n*math.Pow(d, 5)/(2*math.Pi) + i0
		return w/kv + i*rm, (w/kv + i*rm) * i
	}
	held := func(multiple float64) float64 {
		n := math.Sqrt(multiple * 0.2384 * 9.80665 * 1.02 / 4 / (ct * rho * math.Pow(d, 4)))
		_, p := motor(2 * math.Pi * n)
		return 4*p/eta + 7
	}
	speedAt := func(v float64) float64 {
		low, high := 0.0, kv*v
		for range 60 {
			w := (low + high) / 2
			if volts, _ := motor(w); volts > v {
				high = w
			} else {
				low = w
			}
		}
		return low
	}
	s, v1, now, energy, dip := 1.0, 0.0, 0.0, 0.0, 0.0
	least := make([]float64, len(phases))
	r0, r1 := float64(pack.R0), float64(pack.R1)
	done := false
	for !done {
		for n, p := range phases {
			power := held(p.Thrust)
			// Full throttle is an impulse: its clock runs as the thrust, w^2, over that at 3.3 V per cell.
			usual := speedAt(4 * 3.3)
			for passed := 0.0; passed < float64(p.Duration)-dt/2; {
				e := 4*(float64(pack.Curve.At(s))-0.0093) - v1
				var v, i float64
				clock := dt
				if p.Full {
					low, high := 0.0, kv*e
					for range 60 {
						w := (low + high) / 2
						volts, watts := motor(w)
						v, i = volts, (4*watts/eta+7)/volts
						if v+r0*i > e {
							high = w
						} else {
							low = w
						}
					}
					clock *= low * low / (usual * usual)
				} else {
					i = (e - math.Sqrt(e*e-4*r0*power)) / (2 * r0)
					v = e - r0*i
				}
				if least[n] == 0 || v < least[n] {
					least[n] = v
				}
				if p.Full && v < 4*3.4 && dip == 0 {
					dip = now
				}
				if (!p.Full && v <= 4*3.4) || s <= 0.15 {
					done = true
					break
				}
				s -= i * dt / float64(pack.Capacity)
				v1 += dt * (r1*i - v1) / 20
				now += clock
				passed += clock
				energy += v * i * dt
			}
			if done {
				break
			}
		}
	}
	for _, c := range []struct {
		name           string
		got, want, tol float64
	}{
		{"first met", float64(got.FirstMet), now, 1e-4 * now},
		{"least voltage at 1.25", float64(got.Phases[0].MinVoltage), least[0], 5e-3},
		{"least voltage at full throttle", float64(got.Phases[1].MinVoltage), least[1], 5e-3},
		{"least voltage in hover", float64(got.Phases[2].MinVoltage), least[2], 5e-3},
		{"first dip", float64(got.FirstDip), dip, 0.05},
	} {
		if math.Abs(c.got-c.want) > c.tol {
			t.Errorf("%s = %.6g, want %.6g within %.2g", c.name, c.got, c.want, c.tol)
		}
	}
	t.Logf("first met at %.4f s against %.4f s, dip %.3f against %.3f s", float64(got.FirstMet), now, float64(got.FirstDip), dip)
	if !got.Dipped || got.Strict() != got.FirstDip {
		t.Errorf("dipped %v, strict %g s", got.Dipped, float64(got.Strict()))
	}
}

func TestPhasesThrustRatioFallsAsThePackEmpties(t *testing.T) {
	craft, pack := phaseCraft(t), phasePack(t)
	got := craft.FlyPhases(pack, phaseMass, model.Landing{PerCell: 3.5, Reserve: 0.2}, []model.Phase{{Duration: 20, Thrust: 1}, {Duration: 1, Full: true}})
	use := got.Phases[1]
	if !(use.FirstRatio > use.LastRatio && use.LastRatio > 1) {
		t.Errorf("full throttle lifts %.2f times weight at first and %.2f at last", use.FirstRatio, use.LastRatio)
	}
	if got.Phases[0].LastRatio != 1 || use.Runs < 5 {
		t.Errorf("uses %+v", got.Phases)
	}
	// A settled punch at the charge of the last run, with the whole R0 + R1, lifts less than a short one.
	held := craft.PunchOut(pack, got.ChargeLeft)
	if held.Ratio(phaseMass) >= use.LastRatio {
		t.Errorf("a held punch lifts %.3f, a short one %.3f", held.Ratio(phaseMass), use.LastRatio)
	}
}

func TestPhasesOfFullThrottleAloneEndAtTheDip(t *testing.T) {
	craft, pack := phaseCraft(t), phasePack(t)
	got := craft.FlyPhases(pack, phaseMass, model.Landing{PerCell: 3.0, Reserve: 0.2}, []model.Phase{{Duration: 100, Full: true}})
	if !got.Dipped || math.Abs(float64(got.Duration-got.FirstDip)) > 1e-6 || got.EndedBy != model.EndedByVoltage {
		t.Errorf("%+v, want an end at the dip", got)
	}
	if v := float64(got.Phases[0].MinVoltage); math.Abs(v-12) > 1e-6 {
		t.Errorf("ended at %.8f V, want 12", v)
	}
}

func TestPhasesCurrentLimitCapsFullThrottle(t *testing.T) {
	craft, pack := phaseCraft(t), phasePack(t)
	craft.Rotor.Controller.MaxCurrent = 8
	phases := []model.Phase{{Duration: 20, Thrust: 1}, {Duration: 1, Full: true}}
	got := craft.FlyPhases(pack, phaseMass, model.Landing{PerCell: 3.5, Reserve: 0.2}, phases)
	want := (1 - craft.ThrustLoss) * 4 * float64(craft.Rotor.AtFull(craft.Rotor.SpeedAtCurrent(8)).Thrust) / float64(phaseMass.Weight())
	if math.Abs(got.Phases[1].FirstRatio/want-1) > 1e-9 {
		t.Errorf("ratio %.9f at the limit, want %.9f", got.Phases[1].FirstRatio, want)
	}
}

// A second difference over a tiny change of mass shows a step or a kink of the numerics; over a large range of
// masses, through several counts of cycles, heavier must fly shorter by like amounts.
func TestPhasesAreSmooth(t *testing.T) {
	craft, pack := phaseCraft(t), phasePack(t)
	phases := []model.Phase{{Duration: 15, Thrust: 1.25}, {Duration: 2, Full: true}, {Duration: 3, Thrust: 1.6}}
	for _, rule := range []model.Landing{{PerCell: 3.3, Reserve: 0.2}, {PerCell: 3.55}} {
		at := func(m float64) float64 {
			return float64(craft.FlyPhases(pack, phaseMass*model.Mass(m), rule, phases).Duration)
		}
		last := at(0.9)
		for m := 0.905; m < 1.1; m += 0.005 {
			const h = 1e-5
			a, b, c := at(m-h), at(m), at(m+h)
			if bend := math.Abs(a-2*b+c) / b; bend > 1e-7 {
				t.Errorf("%+v: at mass x%.3f the duration %.6f s bends by %.2g of itself over a step of %.g", rule, m, b, bend, h)
			}
			if change := (last - b) / b / 0.005; change < 0.4 || change > 2.5 {
				t.Errorf("%+v: at mass x%.3f 1 %% more mass takes %.2f %% off the duration", rule, m, change)
			}
			last = b
		}
	}
}

// Whatever the craft, the pack and the phases, packs that collapse included, an answer is finite and keeps the rule.
func TestPhasesOfAnythingEnd(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 9))
	between := func(low, high float64) float64 { return low * math.Pow(high/low, rng.Float64()) }
	for range 3000 {
		craft, pack := phaseCraft(t), phasePack(t)
		pack.Cells = 1 + rng.IntN(6)
		pack.Capacity = model.Charge(between(0.1, 5)) * model.AmpHour
		r := model.Resistance(between(0.001, 2))
		pack.R0, pack.R1 = 0.65*r, 0.35*r
		craft.Rotor.Motor.Kv = model.SpeedConstant(between(500, 30000)) * model.RPMPerVolt
		craft.Rotor.Motor.R = model.Resistance(between(0.01, 1))
		craft.Rotor.Controller.PartDutyDrop = model.Voltage(between(0.1, 8))
		craft.GearPower = model.Power(between(0.1, 40))
		if rng.IntN(4) == 0 {
			craft.Rotor.Motor.MaxCurrent = model.Current(between(0.3, 50))
		}
		mass := model.Mass(between(0.03, 2))
		rule := model.Landing{PerCell: model.Voltage(2.5 + 1.6*rng.Float64()), Reserve: 0.9 * rng.Float64()}
		var phases []model.Phase
		period := 2.0
		for range 1 + rng.IntN(4) {
			p := model.Phase{Duration: model.Time(between(1, 3600)), Full: rng.IntN(3) == 0}
			if !p.Full {
				p.Thrust = between(0.1, 10)
			}
			phases = append(phases, p)
			period += float64(p.Duration)
		}
		f := craft.FlyPhases(pack, mass, rule, phases)
		ok := f.Duration >= 0 && f.FirstMet >= 0 && math.Abs(float64(f.Duration-f.FirstMet)) <= period &&
			f.ChargeLeft >= rule.Reserve-1e-6 && f.ChargeLeft <= 1 && f.Usable >= 0 && !math.IsInf(float64(f.Usable), 0)
		for _, u := range f.Phases {
			ok = ok && !math.IsNaN(float64(u.MinVoltage)) && u.MaxCurrent >= 0 && u.FirstRatio >= 0 && u.LastRatio >= 0
		}
		if !ok {
			t.Fatalf("%d cells, %g ohm, mass %g kg, %+v, %+v: %+v", pack.Cells, float64(r), float64(mass), rule, phases, f)
		}
	}
}

func TestPhasesAllocateOnlyTheAnswer(t *testing.T) {
	craft, pack := phaseCraft(t), phasePack(t)
	phases := []model.Phase{{Duration: 15, Thrust: 1.25}, {Duration: 2, Full: true}}
	n := func(reserve float64) float64 {
		return testing.AllocsPerRun(20, func() {
			craft.FlyPhases(pack, phaseMass, model.Landing{Reserve: reserve}, phases)
		})
	}
	if long, short := n(0.1), n(0.9); long != short {
		t.Errorf("%g allocations in a long flight, %g in a short one", long, short)
	}
}

// A weak pack is not rewarded for what it cannot give: with more resistance, phases with punches never last longer, and
// each punch takes longer.
func TestPhasesDoNotRewardAWeakPack(t *testing.T) {
	craft := phaseCraft(t)
	craft.Rotor.Controller = model.Controller{Efficiency: 0.95, Drop: 0.05, PartDutyDrop: 1.5}
	for _, phases := range [][]model.Phase{
		{{Duration: 20, Thrust: 1.15}, {Duration: 2, Full: true}},
		{{Duration: 5, Thrust: 1}, {Duration: 5, Full: true}, {Duration: 3, Thrust: 1.6}},
	} {
		for _, rule := range []model.Landing{{PerCell: 3.0, Reserve: 0.2}, {PerCell: 3.5, Reserve: 0.1}} {
			var last, took model.Time
			for r := 0.7; r < 2.6; r *= 1.1 {
				pack := phasePack(t)
				pack.R0, pack.R1 = pack.R0*model.Resistance(r), pack.R1*model.Resistance(r)
				f := craft.FlyPhases(pack, phaseMass, rule, phases)
				if last > 0 && (f.Duration > last*1.0001 || f.Duration > 100 && f.Phases[1].Longest <= took) {
					t.Errorf("%+v, resistance x%.2f: %.2f s, punches of up to %.2f s; with less %.2f s and %.2f s", rule, r, float64(f.Duration), float64(f.Phases[1].Longest), float64(last), float64(took))
				}
				last, took = f.Duration, f.Phases[1].Longest
			}
		}
	}
}

// A cycle that is long against the flight is flown to the second: its hard phase, met early in the second
// cycle, ends the flight there. A short cycle counts in part, and between the two nothing jumps by more than
// what the flight itself does.
func TestLongCyclesEndWhereTheRuleIsFirstMet(t *testing.T) {
	craft, pack := phaseCraft(t), phasePack(t)
	rule := model.Landing{PerCell: 3.4, Reserve: 0.2}
	long := craft.FlyPhases(pack, phaseMass, rule, []model.Phase{{Duration: 300, Thrust: 1}, {Duration: 30, Thrust: 2}})
	if long.Duration != long.FirstMet {
		t.Errorf("a cycle of 330 s flies %.2f s, and the rule is first met at %.2f s", float64(long.Duration), float64(long.FirstMet))
	}
	short := craft.FlyPhases(pack, phaseMass, rule, []model.Phase{{Duration: 30, Thrust: 1}, {Duration: 3, Thrust: 2}})
	if short.Duration == short.FirstMet {
		t.Errorf("a cycle of 33 s is flown to the second as well")
	}
	// A phase after the landing never begins.
	never := craft.FlyPhases(pack, phaseMass, rule, []model.Phase{{Duration: 3000, Thrust: 1}, {Duration: 30, Thrust: 2}})
	if never.Phases[1].Runs != 0 || never.Phases[0].Runs != 1 {
		t.Errorf("runs %d and %d, want 1 and 0", never.Phases[0].Runs, never.Phases[1].Runs)
	}
}

func BenchmarkFlyPhases(b *testing.B) {
	craft, pack := phaseCraft(b), phasePack(b)
	phases := []model.Phase{{Duration: 20, Thrust: 1.25}, {Duration: 2, Full: true}}
	for b.Loop() {
		craft.FlyPhases(pack, phaseMass, model.Landing{PerCell: 3.5, Reserve: 0.2}, phases)
	}
}
