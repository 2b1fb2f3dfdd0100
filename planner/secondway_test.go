package planner_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"gonum.org/v1/gonum/interp"
)

// The second way: mass, hover power, flight time and punch-out of a build, worked out from the equations of the method
// by simple, slow means (bisection, small steps), with nothing of package model or planner.

// craft is a build in the units of the trade, as its files have it.
type craft struct {
	frameG, motorG, propG, boardG, gearG, strapG, packG float64
	rotors                                              float64
	thrustLoss                                          float64
	kv, rMohm, i0, noLoadV                              float64 // rMohm or i0 of 0: not known
	motorMaxA, boardMaxA                                float64 // 0: no limit
	efficiency                                          float64 // of the controller
	boardW, gearW                                       float64
	diameterIn, pitchIn, blades                         float64
	rpm, ct, cp                                         []float64 // one ct and cp without rpm; none: known by size
	cells                                               float64
	mAh, r0Mohm, r1Mohm, tau                            float64
	curve                                               []float64 // V per cell at even steps of charge
	altitudeM, airC, packC                              float64
	landPerCell, reserve, punchCharge                   float64
}

const gravity = 9.80665

func (c *craft) massKg() float64 {
	return (c.frameG + c.rotors*(c.motorG+c.propG) + c.boardG + c.gearG + c.strapG + c.packG) / 1000
}

// density of the standard atmosphere's pressure at the air's own temperature (ISO 2533).
func (c *craft) density() float64 {
	p := 101325 * math.Pow((288.15-0.0065*c.altitudeM)/288.15, 5.255880)
	return p / (287.05287 * (c.airC + 273.15))
}

// bisect finds where a function that is below zero at low and above at high crosses zero.
func bisect(low, high float64, f func(float64) float64) float64 {
	for range 100 {
		if m := (low + high) / 2; f(m) < 0 {
			low = m
		} else {
			high = m
		}
	}
	return (low + high) / 2
}

// between is a table's value at x, straight between its rows and flat outside.
func between(xs, ys []float64, x float64) float64 {
	if x <= xs[0] {
		return ys[0]
	}
	for i := 1; i < len(xs); i++ {
		if x < xs[i] {
			return ys[i-1] + (ys[i]-ys[i-1])*(x-xs[i-1])/(xs[i]-xs[i-1])
		}
	}
	return ys[len(ys)-1]
}

// blade is thrust in N and torque in N m of one propeller at a speed in rev/s.
func (c *craft) blade(n, density float64) (thrust, torque float64) {
	d := c.diameterIn * 0.0254
	merit := func(ct, fm float64) float64 { return math.Sqrt(2/math.Pi) * math.Pow(ct, 1.5) / fm }
	var ct, cp float64
	switch {
	case len(c.ct) == 0: // known by size
		ct = math.Exp(-3.171+1.414*min(c.pitchIn/c.diameterIn, 0.8)) * math.Pow(c.blades/2, 0.66)
		t := ct * density * n * n * math.Pow(d, 4)
		cp = merit(ct, min(0.66, 0.48*math.Pow(c.blades/2, 0.17)*math.Pow(t/0.5, 0.118)))
	case len(c.rpm) == 0:
		ct, cp = c.ct[0], c.cp[0]
	default:
		ct, cp = between(c.rpm, c.ct, 60*n), between(c.rpm, c.cp, 60*n)
		if 60*n < c.rpm[0] { // the figure of merit falls as T^0.10, and T goes as the square of the speed
			cp /= math.Pow(60*n/c.rpm[0], 0.20)
		}
	}
	thrust = ct * density * n * n * math.Pow(d, 4)
	return thrust, cp * density * n * n * math.Pow(d, 5) / (2 * math.Pi)
}

// motor's constants in SI: those that are not known come from a motor that fits its propeller.
func (c *craft) motor() (k, r, i0, w0 float64) {
	k = c.kv * math.Pi / 30 // rad/s per V
	r, i0, w0 = c.rMohm/1000, c.i0, k*c.noLoadV
	if r > 0 && i0 > 0 {
		return k, r, i0, w0
	}
	const loaded, share = 0.78, 0.07
	v := 3.7 * c.cells
	w := loaded * k * v
	_, q := c.blade(w/(2*math.Pi), 1.225)
	i := k * q / (1 - share)
	return k, (c.efficiency*v - w/k) / i, share * i, w
}

// drive is the voltage and current of one motor at a speed in rad/s.
func (c *craft) drive(w, density float64) (volts, amps float64) {
	k, r, i0, w0 := c.motor()
	_, q := c.blade(w/(2*math.Pi), density)
	amps = k*q + i0*(0.5+0.5*w/w0)
	return w/k + amps*r, amps
}

// bus is the power that all rotors and the gear take from a bus voltage at a speed.
func (c *craft) bus(w, density, volts float64) float64 {
	v, i := c.drive(w, density)
	duty := v / c.efficiency / volts
	return c.rotors*(v*i+1.5*i*max(0, 1-duty))/c.efficiency + c.boardW + c.gearW
}

// shapes of resistance against charge that is gone, and against temperature.
type shapes struct{ gone, warm interp.FritschButland }

func newShapes(t *testing.T) *shapes {
	t.Helper()
	s := &shapes{}
	for _, f := range []struct {
		fit    *interp.FritschButland
		xs, ys []float64
	}{
		{
			&s.gone,
			[]float64{0, .05, .10, .20, .30, .40, .50, .60, .70, .80, .85, .90, .95, 1},
			[]float64{0, .070, .215, .336, .391, .422, .473, .617, .836, 1, 1.145, 1.332, 1.711, 2.54},
		},
		{&s.warm, []float64{5, 15, 25, 35, 45}, []float64{1.55, 1.15, 1, 0.86, 0.80}},
	} {
		if err := f.fit.Fit(f.xs, f.ys); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

// factor is what charge and temperature make of a resistance at half charge and 25 C.
func (s *shapes) factor(charge, celsius float64) float64 {
	const k = 0.5
	return (1 + k*s.gone.Predict(1-charge)) / (1 + k*s.gone.Predict(0.5)) * s.warm.Predict(min(max(celsius, 5), 45))
}

type answer struct {
	hoverSpeed     float64 // rad/s
	seconds, punch float64
	endedByVoltage bool
}

func (c *craft) answer(s *shapes, t *testing.T) answer {
	t.Helper()
	density := c.density()
	weight := c.massKg() * gravity
	each := weight / ((1 - c.thrustLoss) * c.rotors)
	hover := 2 * math.Pi * bisect(1, 3000, func(n float64) float64 {
		thrust, _ := c.blade(n, density)
		return thrust - each
	})
	var open interp.FritschButland
	at := make([]float64, len(c.curve))
	for i := range at {
		at[i] = float64(i) / float64(len(at)-1)
	}
	if err := open.Fit(at, c.curve); err != nil {
		t.Fatal(err)
	}
	e := func(charge float64) float64 { return c.cells * open.Predict(charge) }

	// The flight, in steps of a tenth of a second, each by its middle.
	hoverV, _ := c.drive(hover, density)
	lowest := max(c.landPerCell*c.cells, hoverV/c.efficiency)
	heat := 1080 * 0.9 * c.packG / 1000
	charge, v1, celsius, seconds := 1.0, 0.0, c.packC, 0.0
	loaded := func(charge, v1, celsius float64) (volts, amps float64) {
		r := c.r0Mohm / 1000 * s.factor(charge, celsius)
		over := e(charge) - v1
		// The upper root; below half of the voltage there is none.
		volts = bisect(over/2, over, func(v float64) float64 { return v*(v-over) + r*c.bus(hover, density, v) })
		return volts, (over - volts) / r
	}
	rate := func(charge, v1, celsius float64) (dCharge, dV1, dCelsius, volts float64) {
		volts, amps := loaded(charge, v1, celsius)
		f := s.factor(charge, celsius)
		r0, r1 := c.r0Mohm/1000*f, c.r1Mohm/1000*f
		dCelsius = (amps*amps*r0+v1*v1/r1)/heat - (celsius-c.airC)/400
		return -amps / (c.mAh * 3.6), (r1*amps - v1) / c.tau, dCelsius, volts
	}
	out := answer{hoverSpeed: hover}
	const step = 0.25
	for seconds < 24*3600 {
		ds, dv, dt, volts := rate(charge, v1, celsius)
		_, _, _, next := rate(charge+step*ds, v1+step*dv, celsius+step*dt)
		ms, mv, mt, _ := rate(charge+step/2*ds, v1+step/2*dv, celsius+step/2*dt)
		share := 1.0 // of the step until landing
		if charge+step*ms <= c.reserve {
			share = (charge - c.reserve) / (-step * ms)
		}
		if next <= lowest {
			if x := (volts - lowest) / (volts - next); x < share {
				share, out.endedByVoltage = max(0, x), true
			}
		}
		seconds += share * step
		if share < 1 {
			break
		}
		charge, v1, celsius = charge+step*ms, v1+step*mv, celsius+step*mt
	}
	out.seconds = seconds

	// The punch-out, with the steady resistance.
	over, r := e(c.punchCharge), (c.r0Mohm+c.r1Mohm)/1000*s.factor(c.punchCharge, c.packC)
	floor := 3.3 * c.cells
	fullSpeed := func(v float64) float64 {
		return bisect(1, 40000, func(w float64) float64 {
			u, _ := c.drive(w, density)
			return u - c.efficiency*v
		})
	}
	burst := floor * (over - floor) / r
	var w float64
	if demand := c.bus(fullSpeed(floor), density, floor); burst < demand {
		w = bisect(1, fullSpeed(floor), func(w float64) float64 { return c.bus(w, density, floor) - burst })
	} else {
		v := bisect(over/2, over, func(v float64) float64 { return v*(v-over) + r*c.bus(fullSpeed(v), density, v) })
		w = fullSpeed(v)
	}
	for _, most := range []float64{c.motorMaxA, c.boardMaxA} {
		if _, i := c.drive(w, density); most > 0 && i > most {
			w = bisect(1, w, func(w float64) float64 {
				_, i := c.drive(w, density)
				return i - most
			})
		}
	}
	thrust, _ := c.blade(w/(2*math.Pi), density)
	out.punch = (1 - c.thrustLoss) * c.rotors * thrust / weight
	return out
}

// files are the craft's records and build.
func (c *craft) files() (parts, build string) {
	var b strings.Builder
	line := func(format string, v ...any) { fmt.Fprintf(&b, format+"\n", v...) }
	line("[frame.f]\nmass_g = %v\nrotors = %v\nmax_prop_in = 12\nthrust_loss = %v", c.frameG, c.rotors, c.thrustLoss)
	line("[motor.m]\nmass_g = %v\nkv = %v", c.motorG, c.kv)
	if c.rMohm > 0 {
		line("r_mohm = %v\nno_load_a = %v\nno_load_v = %v", c.rMohm, c.i0, c.noLoadV)
	}
	if c.motorMaxA > 0 {
		line("max_current_a = %v", c.motorMaxA)
	}
	line("[prop.p]\nmass_g = %v\ndiameter_in = %v\npitch_in = %v\nblades = %v", c.propG, c.diameterIn, c.pitchIn, c.blades)
	if len(c.rpm) > 0 {
		rows := make([]string, len(c.rpm))
		for i := range rows {
			rows[i] = fmt.Sprintf("{ rpm = %v, ct = %v, cp = %v }", c.rpm[i], c.ct[i], c.cp[i])
		}
		line("static = [%s]", strings.Join(rows, ", "))
	} else if len(c.ct) > 0 {
		line("ct = %v\ncp = %v", c.ct[0], c.cp[0])
	}
	line("[board.b]\nmass_g = %v\npower_w = %v\nefficiency = %v", c.boardG, c.boardW, c.efficiency)
	if c.boardMaxA > 0 {
		line("max_current_a = %v", c.boardMaxA)
	}
	line("[gear.g]\nmass_g = %v\npower_w = %v", c.gearG, c.gearW)
	curve := strings.ReplaceAll(fmt.Sprint(c.curve), " ", ", ")
	line("[pack.k]\nmass_g = %v\nchemistry = \"lipo\"\ncells = %v\nrated_mah = %v", c.packG, c.cells, math.Round(c.mAh))
	line("circuit = { capacity_mah = %v, r0_mohm = %v, r1_mohm = %v, tau_s = %v, curve_v = %s }", c.mAh, c.r0Mohm, c.r1Mohm, c.tau, curve)
	parts = b.String()
	b.Reset()
	line("rotors = %v\n[limit]\nmass_g = 20000\n[slots]\nframe = \"f\"\nmotor = \"m\"\nprop = \"p\"\nboard = \"b\"\ngear = [\"g\"]\npack = \"k\"", c.rotors)
	line("[extra.strap]\nmass_g = %v", c.strapG)
	line("[air]\naltitude_m = %v\ntemperature_c = %v\npack_temperature_c = %v", c.altitudeM, c.airC, c.packC)
	line("[flight]\nland_v_per_cell = %v\nreserve = %v\npunch_charge = %v", c.landPerCell, c.reserve, c.punchCharge)
	return parts, b.String()
}

// randomCraft is a build of which each figure is plausible by itself.
func randomCraft(r *rand.Rand) craft {
	from := func(low, high float64) float64 { return low + (high-low)*r.Float64() }
	d := from(2, 5.1)
	c := craft{
		rotors: []float64{3, 4, 6}[r.IntN(3)], frameG: from(20, 60), motorG: from(4, 12), propG: from(0.7, 3), boardG: from(4, 12),
		gearG: from(5, 45), strapG: from(1, 9), thrustLoss: float64(r.IntN(2)) * from(0, 0.2),
		kv: from(3000, 5000) * 3.5 / d, efficiency: from(0.9, 0.98), boardW: from(0.5, 2), gearW: from(0, 8),
		diameterIn: d, pitchIn: d * from(0.4, 1), blades: float64(2 + r.IntN(3)),
		cells: float64(3 + r.IntN(3)), tau: from(5, 40),
		altitudeM: from(-100, 2500), airC: from(-5, 35), packC: from(8, 40),
		landPerCell: from(3.2, 3.6), reserve: from(0.05, 0.3), punchCharge: from(0.4, 1),
	}
	c.mAh = from(350, 1300)
	c.packG = c.mAh * c.cells * 0.027
	share := from(0.5, 0.8)
	total := from(0.008, 0.03) * c.cells / (c.mAh / 1000) * 1000
	c.r0Mohm, c.r1Mohm = total*share, total*(1-share)
	if r.IntN(3) > 0 {
		c.rMohm, c.i0, c.noLoadV = from(60, 250), from(0.2, 0.9), from(8, 16)
	}
	if r.IntN(3) == 0 {
		c.motorMaxA = from(5, 15)
	}
	if r.IntN(3) == 0 {
		c.boardMaxA = from(5, 25)
	}
	ct := from(0.08, 0.2)
	cp := math.Sqrt(2/math.Pi) * math.Pow(ct, 1.5) / from(0.45, 0.65)
	switch r.IntN(3) {
	case 0:
		c.ct, c.cp = []float64{ct}, []float64{cp}
	case 1:
		for i := range 3 + r.IntN(3) {
			c.rpm = append(c.rpm, math.Round(from(4000, 9000))+7000*float64(i))
			c.ct = append(c.ct, ct*from(0.95, 1.05))
			c.cp = append(c.cp, cp*from(0.95, 1.05))
		}
	}
	low, bend := from(3.0, 3.4), from(0.4, 0.9)
	for i := range 11 {
		x := float64(i) / 10
		c.curve = append(c.curve, math.Round(1e4*(low+(4.2-low)*(bend*math.Pow(x, 0.25)+(1-bend)*x*x)))/1e4)
	}
	return c
}

// TestTheSecondWay: on random builds, files in and answers out, the program agrees with another implementation of the
// method within 0.5 %.
func TestTheSecondWay(t *testing.T) {
	builds := 150
	if os.Getenv("ALLUP_LONG") != "" {
		builds = 1000
	}
	if testing.Short() {
		builds = 20
	}
	s := newShapes(t)
	r := rand.New(rand.NewPCG(77, 250))
	var byVoltage, limited, flown int
	worst := map[string]float64{}
	for i := 0; flown < builds; i++ {
		if i > 20*builds {
			t.Fatalf("only %d of %d random builds fly", flown, i)
		}
		c := randomCraft(r)
		parts, build := c.files()
		ranking, err := rankTexts(parts, build)
		if err != nil {
			continue // a figure that the program refuses
		}
		all := append(ranking.Ranked, ranking.Excluded...)
		if len(all) != 1 || all[0].Flight.Duration < 60 || all[0].Flight.Throttle > 0.95 {
			continue // too weak to hover for a minute: nothing to compare
		}
		flown++
		a := &all[0]
		want := c.answer(s, t)
		flight := &a.Flight
		for _, f := range []struct {
			name      string
			got, want float64
		}{
			{"mass", float64(a.Mass), c.massKg()},
			{"hover power", float64(flight.Hover.Power), c.bus(want.hoverSpeed, c.density(), float64(flight.Hover.Bus))},
			{"flight time", float64(flight.Duration), want.seconds},
			{"punch", a.Punch.Ratio(a.Mass), want.punch},
		} {
			off := math.Abs(f.got/f.want - 1)
			worst[f.name] = max(worst[f.name], off)
			if !(off <= 0.005) {
				t.Errorf("build %d: %s %v, the second way %v (%+.2f %%)\n%s%s", i, f.name, f.got, f.want, 100*(f.got/f.want-1), parts, build)
			}
		}
		if want.endedByVoltage {
			byVoltage++
		}
		if a.Punch.LimitedBy != "full-throttle" {
			limited++
		}
		if t.Failed() {
			return
		}
	}
	t.Logf("%d builds, %d flights ended by voltage, %d punch-outs limited; worst %v", flown, byVoltage, limited, worst)
	if byVoltage < builds/10 || byVoltage > builds*9/10 || limited < builds/10 {
		t.Errorf("%d of %d flights ended by voltage, %d punch-outs limited: the builds are all of one kind", byVoltage, builds, limited)
	}
}
