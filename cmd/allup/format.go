package main

import (
	"fmt"
	"strconv"

	"allup/model"
	"allup/planner"
)

// number is a figure with fixed digits after the point, and its unrounded value.
func number(v float64, digits int) cell {
	text := strconv.FormatFloat(v, 'f', digits, 64)
	if v == 0 || text == "-"+strconv.FormatFloat(0, 'f', digits, 64) {
		text = strconv.FormatFloat(0, 'f', digits, 64)
	}
	return cell{text: text, value: &v}
}

func maybe(v *float64, digits int) cell {
	if v == nil {
		return cell{text: "-"}
	}
	return number(*v, digits)
}

func integer(n int) cell { return number(float64(n), 0) }

func gramsCell(m model.Mass) cell { return number(m.Grams(), 1) }

func minutesCell(t model.Time) cell { return number(t.Minutes(), 1) }

// signed is a difference with its sign; one that rounds to nothing has none.
func signed(v float64, digits int) string {
	text := number(v, digits).text
	if v > 0 && text != number(0, digits).text {
		return "+" + text
	}
	return text
}

// percent is a chance or share: never 0 % or 100 % unless it is exactly that.
func percent(v float64) string {
	switch {
	case v > 0 && v < 0.01:
		return "< 1 %"
	case v < 1 && v > 0.99:
		return "> 99 %"
	}
	return fmt.Sprintf("%.0f %%", 100*v)
}

// span is an interval in words, "8.2 to 11.4".
func span(i planner.Interval, scale float64, digits int) string {
	return fmt.Sprintf("%.*f to %.*f", digits, i.Low*scale, digits, i.High*scale)
}

func ratio(v float64) string { return strconv.FormatFloat(v, 'f', 1, 64) }

// count is a number with its noun.
func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}
