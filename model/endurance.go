package model

import "math"

// Endurance is how long a pack holds the loads about one hover, and at which current: parabolas of the
// logarithms of time and current over that of the power, through the hover and one flight on either side of it.
// What is uncertain of rotors and mass moves a hover only by its load, so a band takes three flights for all of
// them instead of two for each.
type Endurance struct {
	perCell Voltage // landing voltage per cell
	cells   int
	bus     Voltage // at which loads are compared: that of the middle of the hover

	load          float64 // ln of the power on that bus, W
	reach         float64 // how far from it the other two flights are
	time, current parabola
}

// parabola is at + x (slope + x bend).
type parabola struct{ at, slope, bend float64 }

// steepest is the power of the power with which time may change: -1 where all energy is to be had at any power.
const steepest = -2

// through is the parabola with the values below, at and above at -x, 0 and x.
func through(below, at, above, x float64) parabola {
	return parabola{at, (above - below) / (2 * x), (above - 2*at + below) / (x * x) / 2}
}

func (p parabola) of(x float64) float64 { return p.at + x*(p.slope+x*p.bend) }

// Endurance is that of a pack about the hover of a mass, whose flight is known, for loads with up to a part
// more or less power. It is not ok where the three flights do not end alike, and where the pack is about to
// give no such power at all: then no parabola goes through them.
func (d Drive) Endurance(pack Circuit, m Mass, rule Landing, flight *Flight, part float64) (e Endurance, ok bool) {
	e = Endurance{perCell: rule.PerCell, cells: pack.Cells, bus: flight.Hover.Bus, load: math.Log(float64(flight.Hover.Power)), reach: math.Log1p(part)}
	if !(flight.Duration > 0) || flight.ThrottleBound || !(part > 0) {
		return e, false
	}
	hover := d.Hover(m, pack.OpenVoltage(1))
	load := d.load(&hover.Rotor)
	var ends [2]Discharge
	for i, by := range [...]float64{math.Exp(-e.reach), math.Exp(e.reach)} {
		l := busLoad{load.a * by, load.b * by}
		ends[i] = pack.Discharge(l.near(l.during(&pack)), Stop(rule))
		if ends[i].EndedBy != flight.EndedBy || ends[i].Collapsed || !(ends[i].Duration > 0) {
			return e, false
		}
	}
	e.time = through(math.Log(float64(ends[0].Duration)), math.Log(float64(flight.Duration)), math.Log(float64(ends[1].Duration)), e.reach)
	if e.time.slope < steepest {
		return e, false
	}
	e.current = through(math.Log(float64(ends[0].MidCurrent)), math.Log(float64(flight.Current)), math.Log(float64(ends[1].MidCurrent)), e.reach)
	return e, true
}

// Of is how long a drive hovers with a mass on the pack, and the pack's current when half of the charge is out:
// within 2e-3 of what [Drive.Fly] says. It is not ok beyond the loads that the curve is for, and where full
// throttle would end the flight.
func (e *Endurance) Of(d Drive, m Mass) (t Time, i Current, ok bool) {
	h := d.Hover(m, e.bus)
	x := math.Log(float64(h.Power)) - e.load
	if needs := d.Rotor.Controller.busFor(h.Rotor.Motor.Voltage); needs > e.perCell*Voltage(e.cells) || !(math.Abs(x) <= e.reach) {
		return 0, 0, false
	}
	return Time(math.Exp(e.time.of(x))), Current(math.Exp(e.current.of(x))), true
}
