package model

import (
	"fmt"
	"math"
)

// Constants of the standard atmosphere below 11 km, geopotential altitude.
//
// Source: ISO 2533:1975, ICAO Doc 7488, US Standard Atmosphere 1976.
const (
	seaLevelTemperature = 288.15    // K
	seaLevelPressure    = 101325    // Pa
	lapseRate           = 0.0065    // K/m
	pressureExponent    = 5.255880  // g0/(R lapse rate)
	gasConstantAir      = 287.05287 // J/(kg K)
)

// Bounds of the air that the program answers for.
const (
	MinAltitude    Length      = -500
	MaxAltitude    Length      = 6000
	MinTemperature Temperature = ZeroCelsius - 30
	MaxTemperature Temperature = ZeroCelsius + 50
)

// SeaLevelDensity is the standard density at sea level.
const SeaLevelDensity Density = seaLevelPressure / (gasConstantAir * seaLevelTemperature)

// StandardTemperature is the standard atmosphere's temperature at a geopotential altitude.
func StandardTemperature(altitude Length) Temperature {
	return Temperature(seaLevelTemperature - lapseRate*float64(altitude))
}

// StandardPressure is the standard atmosphere's pressure at a geopotential altitude.
func StandardPressure(altitude Length) Pressure {
	t := float64(StandardTemperature(altitude))
	return Pressure(seaLevelPressure * math.Pow(t/seaLevelTemperature, pressureExponent))
}

// AirDensity is the density at a geopotential altitude for an air temperature:
//
//	rho = p / (R T),  p = 101325 (T0/288.15)^5.25588,  T0 = 288.15 - 0.0065 H
//
// Pressure follows the standard atmosphere whatever the temperature. Altitudes
// outside -500 to 6000 m and temperatures outside -30 to +50 C are errors.
func AirDensity(altitude Length, temperature Temperature) (Density, error) {
	if !(altitude >= MinAltitude && altitude <= MaxAltitude) {
		return 0, fmt.Errorf("altitude %g m is outside %g to %g m", float64(altitude), float64(MinAltitude), float64(MaxAltitude))
	}
	if !(temperature >= MinTemperature && temperature <= MaxTemperature) {
		return 0, fmt.Errorf("air temperature %.4g C is outside %.4g to %.4g C",
			temperature.Celsius(), MinTemperature.Celsius(), MaxTemperature.Celsius())
	}
	return Density(float64(StandardPressure(altitude)) / (gasConstantAir * float64(temperature))), nil
}

// StandardAir is the density at a geopotential altitude at its standard
// temperature. Altitudes outside -500 to 6000 m are errors.
func StandardAir(altitude Length) (Density, error) {
	return AirDensity(altitude, StandardTemperature(altitude))
}
