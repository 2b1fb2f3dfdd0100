package draw

import (
	"fmt"
	"strings"

	"allup/model"
	"allup/model/words"
	"allup/planner"
)

// Swap is a build after a change against the same build before it: each figure as a ratio, with its values and its band
// after the change. It is nil where the build carries no pack on either side.
func Swap(w *planner.Swap) *Drawing {
	before, after := w.Before.Flown, w.After.Flown
	if before == nil || after == nil || before.Duration() <= 0 || after.Duration() <= 0 {
		return nil
	}
	type figure struct {
		name     string
		was, is  float64
		digits   int
		band     planner.Interval
		scale    float64
		goodness int // of more
	}
	figures := []figure{
		{"all-up g", before.Mass.Grams(), after.Mass.Grams(), 1, planner.Interval{}, 1 / float64(model.Gram), -1},
		{"time min", before.Duration().Minutes(), after.Duration().Minutes(), 1, planner.Interval{}, 1 / float64(model.Minute), 1},
		{"punch", before.PunchRatio(), after.PunchRatio(), 1, planner.Interval{}, 1, 1},
		{"hover W", float64(before.Flight.Hover.Power), float64(after.Flight.Hover.Power), 1, planner.Interval{}, 0, -1},
		{"hover A", float64(before.Flight.Current), float64(after.Flight.Current), 2, planner.Interval{}, 1, -1},
		{"headroom", before.Punch.Headroom, after.Punch.Headroom, 2, planner.Interval{}, 0, 1},
	}
	if b := after.Band; b != nil {
		figures[0].band, figures[1].band, figures[2].band, figures[4].band = b.Mass, b.Time, b.Punch, b.Current
	}
	s := scene{}
	x := extent{}
	x.include(0.96, 1.04)
	var names, says []string
	for i := range figures {
		f := figures[len(figures)-1-i]
		if !(f.was > 0) || !(f.is > 0) {
			continue
		}
		row := float64(len(names))
		names = append(names, f.name)
		ratio := f.is / f.was
		x.include(ratio)
		if f.band.High > 0 {
			low, high := f.band.Low*f.scale/f.was, f.band.High*f.scale/f.was
			x.include(low, high)
			s.spans = append(s.spans, span{from: xy{low, row - 0.22}, to: xy{high, row - 0.22}, ink: inkQuiet, width: 1.1, ends: true})
		}
		was, is := words.Fixed(f.was, f.digits), words.Fixed(f.is, f.digits)
		ink := inkText
		switch {
		case was == is:
		case (ratio > 1) == (f.goodness > 0):
			ink = inkOne
		default:
			ink = inkTwo
		}
		s.curves = append(s.curves, curve{line: []xy{{1, row}, {ratio, row}}, ink: ink, width: 3.5})
		s.points = append(s.points,
			point{at: xy{1, row}, ink: inkMuted, radius: 3.2, hollow: true},
			point{at: xy{ratio, row}, ink: ink, radius: 4.6, bold: true, label: was + " to " + is})
		says = append(says, fmt.Sprintf("%s from %s to %s", f.name, was, is))
	}
	s.rules = []rule{{at: 1, ink: inkAxis, dash: 2}}
	s.x, s.y = axis{label: "times before (blue: better, orange: worse)", log: true}, axis{names: names, min: -0.6, max: float64(len(names)) - 0.4}
	s.x.min, s.x.max = x.low/1.02, x.high*1.02
	b := w.After.Plan.Build
	return &Drawing{
		Name: FileName("swap", b.Name, after.Pack.ID), Title: swapTitle(w),
		Says: fmt.Sprintf("The build after the change against before it: %s. Thin bars are 5 to 95 %% bands after it.", strings.Join(says, "; ")),
		wide: 0.5, tall: 1.05, panels: []panel{{1, func(bool) sight { return s }}},
	}
}

func swapTitle(w *planner.Swap) string {
	before, after := w.Before.Flown, w.After.Flown
	limit := w.After.Plan.Build.Limit
	of := words.Trimmed(limit.Mass.Grams(), 2) + " g"
	where := fmt.Sprintf("%s under %s", words.Grams(after.Margin), of)
	switch verdict := w.After.Weighing.Verdict; {
	case verdict == planner.Over && limit.At(after.Mass):
		where = "at, and NOT under, " + of
	case verdict == planner.Over:
		where = fmt.Sprintf("%s OVER %s", words.Grams(-after.Margin), of)
	case verdict == planner.NotSure:
		where += ", but not surely"
	case verdict == planner.SpareShort:
		where += fmt.Sprintf(", LESS than the %s kept back", words.Grams(limit.Spare))
	}
	what := w.After.Plan.Build.Name + ", changed"
	if was, is := before.Pack.ID, after.Pack.ID; was != is {
		what = fmt.Sprintf("%s instead of %s", is, was)
	}
	return fmt.Sprintf("%s: %s g, %s min, punch %s; %s", what, words.Signed((after.Mass-before.Mass).Grams(), 1),
		words.Signed((after.Duration()-before.Duration()).Minutes(), 1), words.Signed(after.PunchRatio()-before.PunchRatio(), 1), where)
}
