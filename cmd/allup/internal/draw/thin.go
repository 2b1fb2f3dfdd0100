package draw

import (
	"math"

	"gonum.org/v1/plot/vg"
)

// thinned leaves out points of a line so that none of them is farther than most from the line that is left.
//
// Source: D. Douglas, T. Peucker, Cartographica 10 (1973) 112.
func thinned(line []vg.Point, most vg.Length) []vg.Point {
	if len(line) < 3 {
		return line
	}
	keep := make([]bool, len(line))
	keep[0], keep[len(line)-1] = true, true
	type span struct{ from, to int }
	for open := []span{{0, len(line) - 1}}; len(open) > 0; {
		s := open[len(open)-1]
		open = open[:len(open)-1]
		worst, at := most, -1
		for i := s.from + 1; i < s.to; i++ {
			if d := distance(line[i], line[s.from], line[s.to]); d > worst {
				worst, at = d, i
			}
		}
		if at >= 0 {
			keep[at] = true
			open = append(open, span{s.from, at}, span{at, s.to})
		}
	}
	out := make([]vg.Point, 0, len(line)/4)
	for i, k := range keep {
		if k {
			out = append(out, line[i])
		}
	}
	return out
}

// distance is how far a point is from the stretch between two others.
func distance(p, a, b vg.Point) vg.Length {
	ab := b.Sub(a)
	length := ab.X*ab.X + ab.Y*ab.Y
	if length > 0 {
		t := min(max(((p.X-a.X)*ab.X+(p.Y-a.Y)*ab.Y)/length, 0), 1)
		a = a.Add(ab.Scale(t))
	}
	return vg.Length(math.Hypot(float64(p.X-a.X), float64(p.Y-a.Y)))
}
