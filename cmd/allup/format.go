package main

import (
	"fmt"

	"allup/cmd/allup/internal/sheet"
	"allup/model"
	"allup/model/words"
	"allup/planner"
)

// maybe is a figure that may not be known.
func maybe(v *float64, digits int) sheet.Cell {
	if v == nil {
		return sheet.Unknown()
	}
	return sheet.Number(*v, digits)
}

func gramsCell(m model.Mass) sheet.Cell { return sheet.Number(m.Grams(), 1) }

func minutesCell(t model.Time) sheet.Cell { return sheet.Number(t.Minutes(), 1) }

// span is an interval in words, "8.2 to 11.4".
func span(i planner.Interval, scale float64, digits int) string {
	return fmt.Sprintf("%.*f to %.*f", digits, i.Low*scale, digits, i.High*scale)
}

func ratio(v float64) string { return words.Fixed(v, 1) }
