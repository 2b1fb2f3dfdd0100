package model_test

import (
	"math"
	"testing"

	"allup/model"
)

// Source: ICAO Doc 7488 / US Standard Atmosphere 1976, geopotential altitude; the printed digits.
func TestStandardAtmosphere(t *testing.T) {
	for _, row := range []struct{ altitude, temperature, pressure, density float64 }{
		{0, 288.150, 101325, 1.22500},
		{500, 284.900, 95460.8, 1.16727},
		{1000, 281.650, 89874.6, 1.11164},
		{2000, 275.150, 79495.2, 1.00649},
		{3000, 268.650, 70108.5, 0.90912},
		{5000, 255.650, 54019.9, 0.73612},
	} {
		h := model.Length(row.altitude)
		within(t, "temperature", model.StandardTemperature(h), row.temperature, 5e-4)
		within(t, "pressure", model.StandardPressure(h), row.pressure, 0.06)
		density, err := model.StandardAir(h)
		if err != nil {
			t.Fatal(err)
		}
		within(t, "density", density, row.density, 6e-6)
	}
}

// At a given temperature the density is p/(R T) with the pressure of the altitude: the ratio of
// two densities at one altitude is that of the temperatures, the other way round.
func TestDensityGoesAgainstTemperature(t *testing.T) {
	cold, err := model.AirDensity(1500, model.Celsius(-20))
	if err != nil {
		t.Fatal(err)
	}
	warm, err := model.AirDensity(1500, model.Celsius(40))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "cold over warm", cold/warm, 313.15/253.15, 1e-12)
}

func TestAirOutside(t *testing.T) {
	for _, c := range []struct {
		altitude model.Length
		celsius  float64
		ok       bool
	}{
		{-500, 15, true},
		{-501, 15, false},
		{6000, -30, true},
		{6001, 15, false},
		{0, -31, false},
		{0, 50, true},
		{0, 51, false},
	} {
		if _, err := model.AirDensity(c.altitude, model.Celsius(c.celsius)); (err == nil) != c.ok {
			t.Errorf("AirDensity(%v m, %v C) = %v, want ok = %v", c.altitude, c.celsius, err, c.ok)
		}
	}
}

// What is no number has no air.
func TestAirOfNaN(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		altitude    model.Length
		temperature model.Temperature
	}{{model.Length(nan), 288}, {0, model.Temperature(nan)}, {model.Length(math.Inf(1)), 288}} {
		if rho, err := model.AirDensity(c.altitude, c.temperature); err == nil || rho != 0 {
			t.Errorf("AirDensity(%v, %v) = %v, %v; want an error alone", c.altitude, c.temperature, rho, err)
		}
	}
}
