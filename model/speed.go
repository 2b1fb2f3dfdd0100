package model

import "math"

// Speed is in metres per second.
type Speed float64

// KilometresPerHour is the speed in km/h.
func (v Speed) KilometresPerHour() float64 { return 3.6 * float64(v) }

// SpeedOfSound in dry air: sqrt(1.4 R T). 340.294 m/s at 15 C.
//
// Source: ISO 2533:1975.
func SpeedOfSound(t Temperature) Speed {
	return Speed(math.Sqrt(1.4 * gasConstantAir * float64(t)))
}

// TipMach is the tip speed of a propeller that does not move along over the speed of sound.
// Above about 0.7 the coefficients of slow propellers no longer hold (common practice).
func TipMach(w AngularSpeed, diameter Length, air Temperature) float64 {
	return float64(w) * float64(diameter) / 2 / float64(SpeedOfSound(air))
}

// PitchSpeed is the speed at which air passes through a propeller that works without slip: revolutions
// per second times pitch. At full throttle at rest it is an upper bound on airspeed: drag stops a multirotor
// well before, though a propeller that moves along turns some percent faster.
func PitchSpeed(w AngularSpeed, pitch Length) Speed {
	return Speed(w.RevPerSecond() * float64(pitch))
}

// SpeedOf is the speed at which a mass has a kinetic energy.
func SpeedOf(m Mass, e Energy) Speed { return Speed(math.Sqrt(2 * float64(e) / float64(m))) }
