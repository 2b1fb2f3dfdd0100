package draw

import (
	"fmt"
	"math"
	"slices"

	"allup/model"
	"allup/model/words"
	"allup/planner"
)

// mostMarks is how many packs have bands and a mark of their own to point at; the others of a large catalogue are dots.
const mostMarks = 150

// Packs is flight time against punch for every pack that suits a build, with its bands; packs known by their label only
// are hollow. It is nil where no pack suits.
func Packs(r *planner.Ranking) *Drawing {
	if len(r.Ranked) == 0 {
		return nil
	}
	p := r.Plan
	flies := "hover time"
	if len(p.Build.Flight.Phases) > 0 {
		flies = "flight time"
	}
	s := scene{frontSays: "beaten by no other in both", fewSays: "known by its label only"}
	var front []xy
	var names []string
	x, y, wideX, wideY := extent{}, extent{}, extent{}, extent{}
	hollow := 0
	tied := 0 // in the first group: what the data cannot tell from the best
	for i := range r.Ranked {
		if r.Ranked[i].Group == 1 {
			tied++
		}
	}
	for i := range r.Ranked {
		a := &r.Ranked[i]
		at := xy{a.Duration().Minutes(), a.PunchRatio()}
		k := point{at: at, ink: inkQuiet, radius: 3.6, least: true}
		x.include(at.x)
		y.include(at.y)
		if i < mostMarks || a.Front {
			k.id, k.label = a.Pack.ID, a.Pack.ID
			k.says = fmt.Sprintf("number %d, %s: %s %s, punch %s times its weight, %s all-up", a.Rank, a.Pack.ID, words.Fixed(at.x, 1), "min", words.Fixed(at.y, 1), words.Grams(a.Mass))
			if b := a.Band; b != nil {
				k.cross = &[4]float64{b.Time.Low / float64(model.Minute), b.Time.High / float64(model.Minute), b.Punch.Low, b.Punch.High}
				wideX.include(k.cross[0], k.cross[1])
				wideY.include(k.cross[2], k.cross[3])
			}
		}
		if a.Pack.Basis == planner.BasisLabel {
			k.hollow = true
			k.says += ", by its label only"
			hollow++
		}
		if k.says != "" && a.Group > 0 {
			k.says += fmt.Sprintf(", group %d", a.Group)
		}
		k.ringed = a.Group == 1 && tied > 1
		if a.Front {
			k.ink, k.radius, k.bold, k.least = inkOne, 4.6, true, len(names) >= 8
			front = append(front, at)
			names = append(names, a.Pack.ID)
			k.says += "; no other beats it in both"
		}
		if p.Pack != nil && p.Pack.ID == a.Pack.ID {
			k.label += " (today's)"
			k.least = false
			k.says += "; today's pack"
		}
		if a.Rank == 1 {
			k.least = false
		}
		s.points = append(s.points, k)
	}
	// The named ones on top of the others, and the best above all.
	slices.Reverse(s.points)
	slices.SortStableFunc(s.points, func(a, b point) int { return int(a.radius*10) - int(b.radius*10) })
	slices.SortFunc(front, func(a, b xy) int { return sign(a.x - b.x) })
	s.curves = []curve{{line: steps(front), ink: inkOne, dash: 2, width: 1.2}}
	s.x, s.y = axis{label: flies + ", min"}, axis{label: "punch, times weight"}
	s.x.min, s.x.max = x.with(wideX).padded()
	s.y.min, s.y.max = y.with(wideY).padded()
	says := fmt.Sprintf("A point for each of %s that suit, further right for longer flight and higher for harder punch. Thin crosses are 5 to 95 %% bands. On the front: %s.",
		words.Count(len(r.Ranked), "pack", "packs"), words.List(names, "and"))
	if hollow > 0 {
		says += fmt.Sprintf(" %s hollow: known by the label only.", words.Count(hollow, "point is", "points are"))
	}
	if tied > 1 {
		s.note = "; pale discs: not to be told from the best"
		says += fmt.Sprintf(" Pale discs mark the first group, %s: the data cannot tell which is best.", words.Count(tied, "pack", "packs"))
	}
	return &Drawing{
		Name: FileName("packs", p.Build.Name), Title: packsTitle(names, len(r.Ranked)), Says: says,
		wide: 0.6, tall: 1.15, panels: []panel{{1, func(narrow bool) sight { return s.forPhone(narrow) }}},
	}
}

// forPhone names fewer points where there is little room.
func (s scene) forPhone(narrow bool) sight {
	if !narrow {
		return s
	}
	s.points = slices.Clone(s.points)
	for i := range s.points {
		if s.points[i].least && s.points[i].ink == inkQuiet {
			s.points[i].label = ""
		}
	}
	return s
}

func packsTitle(front []string, total int) string {
	switch {
	case total == 1:
		return front[0] + " is the one pack that suits"
	case len(front) == 1:
		return fmt.Sprintf("%s beats all %d others in time and punch", front[0], total-1)
	case len(front) <= 3:
		return fmt.Sprintf("No pack of %d beats %s in both time and punch", total, words.List(front, "or"))
	}
	return fmt.Sprintf("%d of %d packs are beaten by no other in both time and punch", len(front), total)
}

// steps joins points by what each of them beats: up to its punch, out to its time.
func steps(front []xy) []xy {
	var line []xy
	for i, p := range front {
		if i > 0 {
			line = append(line, xy{front[i-1].x, p.y})
		}
		line = append(line, p)
	}
	return line
}

func sign(v float64) int {
	switch {
	case v < 0:
		return -1
	case v > 0:
		return 1
	}
	return 0
}

// extent is the range of the values included.
type extent struct {
	low, high float64
	any       bool
}

func (e *extent) include(values ...float64) {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			continue
		}
		if !e.any {
			e.low, e.high, e.any = v, v, true
		}
		e.low, e.high = min(e.low, v), max(e.high, v)
	}
}

// with is the range widened to hold another, by at most 0.6 of its own width at either end: bands may be far wider than
// what they are of.
func (e extent) with(o extent) *extent {
	if e.any && o.any {
		room := max(0.6*(e.high-e.low), 0.1*math.Abs(e.high))
		e.low, e.high = max(min(e.low, o.low), e.low-room), min(max(e.high, o.high), e.high+room)
	}
	return &e
}

// padded is the range with a little room at both ends, never of no width.
func (e *extent) padded() (low, high float64) {
	room := 0.06 * (e.high - e.low)
	if room <= 0 {
		room = max(0.05*math.Abs(e.high), 1e-6)
	}
	low = e.low - room
	if e.low >= 0 {
		low = max(0, low)
	}
	return low, e.high + room
}
