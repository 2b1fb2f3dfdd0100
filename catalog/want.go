package catalog

import (
	"strconv"
	"strings"
)

// want says what a number may be, in the unit of its key.
type want struct {
	min, max float64
	unit     string
	share    string  // what a fraction is a fraction of; "" for other numbers
	least    float64 // of what is not zero, where zero is allowed
	whole    bool    // only whole numbers
	needed   bool    // the field is required
	low      float64 // usual from low to high; outside it the value is odd
	high     float64 // 0: nothing is odd
}

// must makes the field required.
func (w want) must() want {
	w.needed = true
	return w
}

// usually sets the range outside which a value is odd.
func (w want) usually(low, high float64) want {
	w.low, w.high = low, high
	return w
}

// from sets the least value of a range from 0 that is not 0: less is a slip, and figures made of it would
// leave what floats can say.
func (w want) from(least float64) want {
	w.least = least
	return w
}

// String is the range with its unit: "200 to 60000 rpm/V".
func (w want) String() string {
	s := showNumber(w.min) + " to " + showNumber(w.max)
	if w.least > 0 {
		s = "0, or " + showNumber(w.least) + " to " + showNumber(w.max)
	}
	if w.unit != "" {
		s += " " + w.unit
	}
	if w.share != "" {
		s += ", a fraction of " + w.share
	}
	return s
}

func (w want) kind() string {
	if w.whole {
		return "a whole number"
	}
	return "a number"
}

func (w want) allows(v float64) bool {
	return v >= w.min && v <= w.max && (w.least == 0 || v == 0 || v >= w.least)
}

// slip guesses the number that was meant where v has a slip of unit or of the
// decimal point. It is "" where that makes nothing usual of it.
func (w want) slip(v float64) string {
	if w.whole || v <= 0 || w.share != "" && v < 2 {
		return ""
	}
	low, high := w.low, w.high
	if high == 0 {
		low, high = w.min, w.max
	}
	for _, f := range w.slips() {
		if g := v * f; g >= low && g <= high && g > 0 {
			return "did you mean " + showRounded(g) + strings.TrimRight(" "+w.unit, " ") + "?"
		}
	}
	return ""
}

// slips are the factors of the usual slips with a unit, likeliest first.
func (w want) slips() []float64 {
	switch {
	case w.share != "":
		return []float64{0.01} // percent
	case w.unit == "g":
		return []float64{0.1, 10, 0.001, 1000}
	case w.unit == "mAh", w.unit == "mohm":
		return []float64{1000, 0.001, 10, 0.1}
	case w.unit == "in":
		return []float64{1 / 25.4, 0.1, 10} // mm
	case w.unit == "rpm/V":
		return []float64{10, 0.1, 0.001}
	}
	return nil
}

// showRounded writes a guess with three digits.
func showRounded(v float64) string {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 3, 64), 64)
	if err != nil {
		return showNumber(v)
	}
	return showNumber(rounded)
}

// fraction is a number from min to max, a part of something.
func fraction(low, high float64, of string) want { return want{min: low, max: high, share: of} }

// span is a number from min to max.
func span(low, high float64, unit string) want { return want{min: low, max: high, unit: unit} }
