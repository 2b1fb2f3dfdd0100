package model

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Quantities are named float64 values in SI base or derived units, so that a
// mass cannot be handed where a power is asked for. Numbers with trade units
// (g, mAh, mOhm, in, min) exist only where they cross a border: files, flags,
// screens. Inside a solver the values are unpacked once to plain float64.
type (
	// Mass is in kilograms.
	Mass float64
	// Length is in metres.
	Length float64
	// Time is in seconds. It is not [time.Duration]: results are real numbers.
	Time float64
	// Voltage is in volts.
	Voltage float64
	// Current is in amperes.
	Current float64
	// Resistance is in ohms.
	Resistance float64
	// Power is in watts.
	Power float64
	// Energy is in joules.
	Energy float64
	// Charge is in coulombs.
	Charge float64
	// Force is in newtons.
	Force float64
	// Torque is in newton metres.
	Torque float64
	// AngularSpeed is in radians per second.
	AngularSpeed float64
	// SpeedConstant is a motor's Kv in radians per second per volt.
	SpeedConstant float64
	// Density is in kilograms per cubic metre.
	Density float64
	// Pressure is in pascals.
	Pressure float64
	// Temperature is in kelvins.
	Temperature float64
)

// Units. Multiply a number by one to make a quantity of it: 31.5*model.Gram.
const (
	Gram       Mass          = 1e-3
	Pound      Mass          = 0.45359237 // exact: international yard and pound agreement, 1959
	Ounce      Mass          = Pound / 16
	Millimetre Length        = 1e-3
	Inch       Length        = 0.0254 // exact: same agreement
	Minute     Time          = 60
	MilliOhm   Resistance    = 1e-3
	WattHour   Energy        = 3600
	MilliAmpH  Charge        = 3.6
	AmpHour    Charge        = 3600
	RPM        AngularSpeed  = 2 * math.Pi / 60
	RPMPerVolt SpeedConstant = 2 * math.Pi / 60
)

// ZeroCelsius is 0 degrees Celsius in kelvins (exact).
const ZeroCelsius Temperature = 273.15

// StandardGravity in m/s2 (exact: 3rd CGPM, 1901).
const StandardGravity = 9.80665

// Celsius makes a temperature of degrees Celsius.
func Celsius(c float64) Temperature { return Temperature(c) + ZeroCelsius }

// Celsius is the temperature in degrees Celsius.
func (t Temperature) Celsius() float64 { return float64(t - ZeroCelsius) }

// Grams is the mass in grams.
func (m Mass) Grams() float64 { return float64(m / Gram) }

// Weight is the force that standard gravity exerts on the mass.
func (m Mass) Weight() Force { return Force(float64(m) * StandardGravity) }

// GramsForce is the force in grams: the mass whose weight it is.
func (f Force) GramsForce() float64 { return float64(f) / StandardGravity / float64(Gram) }

// MilliVolts is the voltage in millivolts.
func (v Voltage) MilliVolts() float64 { return 1e3 * float64(v) }

// Inches is the length in inches.
func (l Length) Inches() float64 { return float64(l / Inch) }

// Millimetres is the length in millimetres.
func (l Length) Millimetres() float64 { return float64(l / Millimetre) }

// Minutes is the time in minutes.
func (t Time) Minutes() float64 { return float64(t / Minute) }

// MilliOhms is the resistance in milliohms.
func (r Resistance) MilliOhms() float64 { return float64(r / MilliOhm) }

// WattHours is the energy in watt-hours.
func (e Energy) WattHours() float64 { return float64(e / WattHour) }

// MilliAmpHours is the charge in milliampere-hours.
func (q Charge) MilliAmpHours() float64 { return float64(q / MilliAmpH) }

// AmpHours is the charge in ampere-hours.
func (q Charge) AmpHours() float64 { return float64(q / AmpHour) }

// RPM is the speed in revolutions per minute.
func (w AngularSpeed) RPM() float64 { return float64(w / RPM) }

// RevPerSecond is the speed in revolutions per second.
func (w AngularSpeed) RevPerSecond() float64 { return float64(w) / (2 * math.Pi) }

// RPMPerVolt is the speed constant in revolutions per minute per volt.
func (k SpeedConstant) RPMPerVolt() float64 { return float64(k / RPMPerVolt) }

// ParseMass reads a mass with its unit: "12.5g", "0.44 oz", "0.012kg", "0.55lb".
// A bare number, a negative mass, NaN and infinity are errors.
func ParseMass(text string) (Mass, error) {
	s := strings.TrimSpace(text)
	cut := len(s)
	for cut > 0 && (s[cut-1] < '0' || s[cut-1] > '9') && s[cut-1] != '.' {
		cut--
	}
	number, unit := s[:cut], strings.TrimSpace(s[cut:])
	units := map[string]Mass{"g": Gram, "kg": 1, "oz": Ounce, "lb": Pound}
	scale, known := units[unit]
	v, err := strconv.ParseFloat(number, 64)
	switch {
	case err == nil && unit == "":
		return 0, fmt.Errorf("mass %q has no unit: write %sg, kg, oz or lb", text, number)
	case err != nil || !known:
		return 0, fmt.Errorf("mass %q is not a number with a unit g, kg, oz or lb", text)
	case v < 0 || math.IsNaN(v) || math.IsInf(v, 0):
		return 0, fmt.Errorf("mass %q must be a number of 0 or more", text)
	}
	return Mass(v) * scale, nil
}
