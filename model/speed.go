package model

import "math"

// Speed is in metres per second.
type Speed float64

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
// per second times pitch. At full throttle at rest it is about what a multirotor cannot outfly: drag stops it
// well before, though a propeller that moves along turns some percent faster.
func PitchSpeed(w AngularSpeed, pitch Length) Speed {
	return Speed(w.RevPerSecond() * float64(pitch))
}

// SpeedClause is what a threshold asks for besides a mass.
type SpeedClause struct {
	Below    Speed  // greatest speed, not included
	Transfer Energy // of an impact, above which the aircraft is registered after all
}

// SpeedClauseOf is the speed clause of a threshold; ok is false for those that have none, as
// far as their texts were read.
//
// Source: Impl. Reg. (EU) 2019/947, Annex, UAS.OPEN.020(5)(a), and Art. 14(5).
func SpeedClauseOf(threshold string) (c SpeedClause, ok bool) {
	if threshold == "eu-a1-built" {
		return SpeedClause{Below: 19, Transfer: 80}, true
	}
	return SpeedClause{}, false
}

// SpeedOf is the speed at which a mass has a kinetic energy.
func SpeedOf(m Mass, e Energy) Speed { return Speed(math.Sqrt(2 * float64(e) / float64(m))) }
