package model_test

import (
	"math"
	"testing"

	"allup/model"
)

// The errors say what is wrong and what is wanted.
func TestParseMassRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"12.5":   `mass "12.5" has no unit: write 12.5g, kg, oz or lb`,
		"-5":     `mass "-5" has no unit: write -5g, kg, oz or lb`,
		"-5g":    `mass "-5g" must be a number of 0 or more`,
		"":       `mass "" is not a number with a unit g, kg, oz or lb`,
		"g":      `mass "g" is not a number with a unit g, kg, oz or lb`,
		"12,5g":  `mass "12,5g" is not a number with a unit g, kg, oz or lb`,
		"12.5G":  `mass "12.5G" is not a number with a unit g, kg, oz or lb`,
		"12 mg":  `mass "12 mg" is not a number with a unit g, kg, oz or lb`,
		"NaN g":  `mass "NaN g" is not a number with a unit g, kg, oz or lb`,
		"inf kg": `mass "inf kg" is not a number with a unit g, kg, oz or lb`,
		"1e999g": `mass "1e999g" is not a number with a unit g, kg, oz or lb`,
		"1..2g":  `mass "1..2g" is not a number with a unit g, kg, oz or lb`,
		"5 g g":  `mass "5 g g" is not a number with a unit g, kg, oz or lb`,
	} {
		m, err := model.ParseMass(text)
		if err == nil || err.Error() != want {
			t.Errorf("ParseMass(%q) = %v, %v; want the error %s", text, m, err, want)
		}
	}
}

func FuzzParseMass(f *testing.F) {
	for _, text := range []string{"12.5g", "0.55 lb", "-1kg", "1e308kg", "0x1p4g", "NaN", "١g", "5\x00g"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		m, err := model.ParseMass(text)
		if !(m >= 0) || math.IsInf(float64(m), 0) {
			t.Errorf("ParseMass(%q) = %v, want a finite mass of zero or more", text, float64(m))
		}
		if err != nil && m != 0 {
			t.Errorf("ParseMass(%q) = %v beside the error %v", text, float64(m), err)
		}
	})
}
