package main

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"allup/model"
	"allup/planner"
)

// conditionFlags are what a question may change of the air: what a winter or a mountain costs, without editing
// the file.
type conditionFlags struct{ planner.Conditions }

func (c *conditionFlags) register(flags *pflag.FlagSet) {
	flags.Var(&quantityFlag[model.Length]{target: &c.Altitude, read: parseAltitude}, "altitude", "fly at this `height` instead of the build's: 2000m, 6500ft")
	flags.Var(&quantityFlag[model.Temperature]{target: &c.Air, read: parseAirTemperature}, "air-temperature", "fly in air of this `temp`: 30C, 86F")
	flags.Var(&quantityFlag[model.Temperature]{target: &c.Pack, read: parsePackTemperature}, "pack-temperature", "take off with packs of this `temp`: 5C, 41F")
}

// quantityFlag is a flag whose value carries its unit.
type quantityFlag[T ~float64] struct {
	target **T
	read   func(string) (T, error)
	text   string
}

func (q *quantityFlag[T]) String() string { return q.text }
func (q *quantityFlag[T]) Type() string   { return "quantity" }
func (q *quantityFlag[T]) Set(text string) error {
	v, err := q.read(text)
	if err != nil {
		return err
	}
	*q.target, q.text = &v, text
	return nil
}

// splitUnit takes a number and its unit apart. A number without a unit is an error.
func splitUnit(text, example string) (v float64, unit string, err error) {
	s := strings.TrimSpace(text)
	cut := strings.IndexFunc(s, func(r rune) bool { return !strings.ContainsRune("0123456789.+-", r) })
	if cut < 0 {
		cut = len(s)
	}
	number, unit := s[:cut], strings.TrimSpace(s[cut:])
	v, err = strconv.ParseFloat(number, 64)
	switch {
	case strings.Contains(s, ","):
		return 0, "", fmt.Errorf("the comma is the trouble: decimals have a point, and thousands stand without anything between them, such as %s", example)
	case err != nil || math.IsNaN(v) || math.IsInf(v, 0):
		return 0, "", fmt.Errorf("it is a number with its unit, such as %s", example)
	case unit == "":
		return 0, "", fmt.Errorf("it has no unit: write it as %s", example)
	}
	return v, unit, nil
}

func parseAltitude(text string) (model.Length, error) {
	v, unit, err := splitUnit(text, "2000m or 6500ft")
	if err != nil {
		return 0, err
	}
	units := map[string]model.Length{"m": 1, "km": 1000, "ft": 12 * model.Inch}
	scale, known := units[unit]
	h := model.Length(v) * scale
	switch {
	case !known:
		return 0, errors.New("its unit is m, km or ft")
	case h < model.MinAltitude || h > model.MaxAltitude:
		return 0, fmt.Errorf("allowed: %g m to %g m", float64(model.MinAltitude), float64(model.MaxAltitude))
	}
	return h, nil
}

func parseAirTemperature(text string) (model.Temperature, error) {
	return parseTemperature(text, "30C or 86F", model.MinTemperature, model.MaxTemperature)
}

func parsePackTemperature(text string) (model.Temperature, error) {
	return parseTemperature(text, "5C or 41F", model.Celsius(-30), model.Celsius(60))
}

func parseTemperature(text, example string, least, most model.Temperature) (model.Temperature, error) {
	v, unit, err := splitUnit(text, example)
	if err != nil {
		return 0, err
	}
	var t model.Temperature
	switch strings.TrimPrefix(unit, "°") {
	case "C":
		t = model.Celsius(v)
	case "F":
		t = model.Celsius((v - 32) / 1.8)
	case "K":
		t = model.Temperature(v)
	default:
		return 0, errors.New("its unit is C, F or K")
	}
	if t < least || t > most {
		return 0, fmt.Errorf("allowed: %.0f C to %.0f C", least.Celsius(), most.Celsius())
	}
	return t, nil
}

// conditionsNote says what air the figures are for.
func conditionsNote(p *planner.Plan) string {
	return fmt.Sprintf("Air of %.3f kg/m3: %s.", float64(p.Drive.Rotor.Air), conditionsText(p))
}

// conditionsText is the air of a build and its packs' temperature in a few words.
func conditionsText(p *planner.Plan) string {
	air := p.Build.Air
	text := fmt.Sprintf("%.0f m, %.0f C", float64(air.Altitude), p.AirTemperature().Celsius())
	if air.PackTemperature != nil {
		return text + fmt.Sprintf("; packs at %.0f C", air.PackTemperature.Celsius())
	}
	return text + "; packs as warm as they were tested"
}
