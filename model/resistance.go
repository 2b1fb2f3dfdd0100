package model

import "math"

// UsualK is how much resistance depends on charge: R0 and R1 are multiplied by g(s)/g(0.5), g = 1 + K S(1 - s),
// with S the shape that was measured on one cell: 0 when full, 1 at 80 % discharged. UsualKSigma is one standard
// deviation from cell to cell.
//
// Source of the shape: an LCO/graphite pouch cell of 2.28 Ah (Rieger et al. 2016, Ai et al. 2020), its voltage at 0.1 C
// against that at 2 C; K is 0.51 for that cell. That other cells have the same shape is an assumption, as is the sigma.
const (
	UsualK      = 0.5
	UsualKSigma = 0.4
)

// riseCells is how many even parts of the charge the shape S has a cubic for.
const riseCells = 20

// rise is S by parts of the charge, from full down; it does not change.
var rise = riseShape()

// riseShape is S between its measured points, monotone and smooth, cut into even parts.
func riseShape() (cells [riseCells]cubic) {
	without := []float64{0, .05, .10, .20, .30, .40, .50, .60, .70, .80, .85, .90, .95, 1}
	measured := []float64{0, .070, .215, .336, .391, .422, .473, .617, .836, 1, 1.145, 1.332, 1.711, 2.54}
	shape, err := interpolate(without, measured)
	if err != nil {
		panic(err) // the points are in order
	}
	for i := range cells {
		at := float64(i) / riseCells
		// The piece's cubic, counted from the part's beginning: its Taylor series there.
		seg := shape.segment(at + 0.5/riseCells)
		p, x := shape.pieces[seg], at-shape.charge[seg]
		cells[i] = cubic{p.at(x), p.c1 + x*(2*p.c2+x*3*p.c3), p.c2 + 3*p.c3*x, p.c3}
	}
	return cells
}

// riseWithout is S at a part of the charge that is gone. Beyond all of it S goes on along its last slope.
func riseWithout(gone float64) float64 {
	x := gone * riseCells
	i := min(max(int(x), 0), riseCells-1)
	p := &rise[i]
	d := max(x-float64(i), 0) * (1. / riseCells)
	if d > 1./riseCells {
		const w = 1. / riseCells
		return p.at(w) + (d-w)*(p.c1+w*(2*p.c2+w*3*p.c3))
	}
	return p.at(d)
}

// ResistanceAt is the ratio of a pack's resistance at a temperature to that at 25 C: 1.55, 1.15, 1, 0.86 and 0.80 at
// 5, 15, 25, 35 and 45 C, smooth and monotone between them, and held flat outside, where nothing is known: above 45 C
// an old or hot cell need not get better any more.
//
// Source: 10 s pulses of an NMC 18650 cell, Oxford Brookes University BTC data, 2021. Other
// cells differ.
func ResistanceAt(t Temperature) float64 {
	x := (t.Celsius() - coldest) * (1. / warmthStep)
	if !(x > 0) {
		return warmth[0].c0
	}
	if x >= float64(len(warmth)) {
		return hottestRatio
	}
	i := int(x)
	return warmth[i].at((x - float64(i)) * warmthStep)
}

// Cold is what a pack's resistance does below the temperatures that were measured, where [ResistanceAt] is held
// flat. It is really higher there; by how much nobody measured on small packs.
type Cold struct {
	Rise float64     // how often the law's rise comes on top: 0 not at all, 1 as the law has it
	From Temperature // below which nothing was measured; 0: [ColdestMeasured]
}

// ColdestMeasured is below what [ResistanceAt] is held flat.
const ColdestMeasured = ZeroCelsius + coldest

// ColdRiseSigma is one standard deviation of [Cold.Rise], of which no part is below 0: that the law of
// Arrhenius goes on as it was between the two coldest measured temperatures (assumption).
const ColdRiseSigma = 1.0

// factor is what comes on top of [ResistanceAt]: exp(Rise E (1/T - 1/From)), with E from ratios of 1.55 and
// 1.15 at 5 and 15 C.
func (c Cold) factor(t Temperature) float64 {
	from := ColdestMeasured
	if c.From > 0 {
		from = c.From
	}
	if t >= from {
		return 1
	}
	return math.Exp(c.Rise * coldLaw * float64(from-t) / float64(from*t))
}

// coldLaw is E of [Cold] in kelvins.
const coldLaw = 2392

// The measured temperatures, C.
const (
	coldest, warmthStep = 5.0, 10.0
	hottestRatio        = 0.80
)

// warmth is ResistanceAt between the measured temperatures; it does not change.
var warmth = warmthShape()

func warmthShape() (pieces [4]cubic) {
	ratio := [len(pieces) + 1]float64{1.55, 1.15, 1, 0.86, hottestRatio}
	// Slopes after Fritsch and Butland for even steps, the harmonic mean of both sides; at the cold end that of
	// a parabola; none at the hot end, where it becomes flat.
	var slope [len(ratio)]float64
	side := func(i int) float64 { return (ratio[i+1] - ratio[i]) / warmthStep }
	slope[0] = (3*side(0) - side(1)) / 2
	for i := 1; i < len(pieces); i++ {
		slope[i] = 2 * side(i-1) * side(i) / (side(i-1) + side(i))
	}
	for i := range pieces {
		d := side(i)
		pieces[i] = cubic{ratio[i], slope[i], (3*d - 2*slope[i] - slope[i+1]) / warmthStep, (slope[i] + slope[i+1] - 2*d) / (warmthStep * warmthStep)}
	}
	return pieces
}
