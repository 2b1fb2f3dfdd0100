package model

import "math"

// Drive is what lifts a build: its rotors, and the gear that draws from the same bus. It has no mass: thrust does
// not depend on mass, so a punch-out is worked out once for a drive with a pack, whatever they lift.
type Drive struct {
	Rotors     int
	Rotor      Rotor
	GearPower  Power   // board, camera, transmitter, receiver, drawn from the bus
	ThrustLoss float64 // fraction of the rotors' thrust lost to arms, guards and ducts, 0 to below 1
}

// Hover is the craft in hover at a mass, on a bus voltage.
type Hover struct {
	Mass  Mass
	Bus   Voltage
	Rotor RotorPoint
	Power Power // all rotors and the gear, from the bus
}

// Lift is the craft giving a multiple of its weight at a mass, on a bus voltage: 1 is hover. Each
// rotor's thrust is multiple x m g0/((1 - ThrustLoss) Rotors).
func (d Drive) Lift(m Mass, multiple float64, bus Voltage) Hover {
	thrust := Force(multiple * float64(m.Weight()) / ((1 - d.ThrustLoss) * float64(d.Rotors)))
	return d.onBus(Hover{Mass: m, Rotor: d.Rotor.AtThrust(thrust, bus)}, bus)
}

// Hover is the craft in hover at a mass, on a bus voltage.
func (d Drive) Hover(m Mass, bus Voltage) Hover { return d.Lift(m, 1, bus) }

// onBus is a hover on another bus voltage.
func (d *Drive) onBus(h Hover, bus Voltage) Hover {
	h.Bus, h.Rotor = bus, d.Rotor.Controller.feed(h.Rotor, bus)
	h.Power = Power(d.Rotors)*h.Rotor.BusPower + d.GearPower
	return h
}

// busLoad is what a craft that holds its thrust takes from a bus voltage V: the power a - b/V. What is lost at part
// duty grows with the voltage, since the duty falls.
type busLoad struct {
	a float64 // W
	b float64 // W V
}

// load is the craft with all rotors at a point of work.
func (d *Drive) load(p *RotorPoint) busLoad {
	c := &d.Rotor.Controller
	lost := float64(d.Rotors) * float64(c.PartDutyDrop) * float64(p.Motor.Current) / c.Efficiency
	return busLoad{
		a: float64(d.Rotors)*float64(p.Motor.Power)/c.Efficiency + lost + float64(d.GearPower),
		b: lost * float64(c.busFor(p.Motor.Voltage)),
	}
}

func (l busLoad) at(v float64) float64 { return l.a - l.b/v }

// near is the load as a constant power and a constant current, which the simulator solves exactly: the
// tangent of a - b/V at a voltage. The power that it gives elsewhere is off by b/V times the square of the relative
// change of voltage: over a discharge from 4.2 to 3.3 V per cell less than 0.1 % of the power at its ends for a
// usual loss at part duty, and less than 0.1 % of the time for four times that.
func (l busLoad) near(v float64) Load {
	slope := l.b / (v * v)
	if power := l.a - 2*slope*v; l.b != 0 && power > 0 {
		return Load{power: power, current: slope}
	}
	return Load{power: l.a} // lost at part duty there is nothing, or more than a bus that low can hold up
}

// settled is the bus voltage of the load on a voltage e behind a resistance r: the upper of two. Where that gives no
// such power, it is e/2, the voltage of the greatest.
func (l busLoad) settled(e, r float64) float64 {
	v := e
	for range 60 { // Newton's steps, down from e: the power that e gives bends away from them
		step := (v*(e-v) - r*l.at(v)) / (e - 2*v - r*l.b/(v*v))
		if !(v-step > e/2) {
			return e / 2
		}
		v -= step
		if math.Abs(step) <= 1e-14*v {
			break
		}
	}
	return v
}

// during is about the bus voltage of the load in the middle of a discharge of a pack.
func (l busLoad) during(pack *Circuit) float64 {
	return l.settled(float64(pack.OpenVoltage(0.6)), float64(pack.Steady(0.6)))
}
