package planner

import (
	"math"
	"slices"

	"allup/catalog"
	"allup/model"
	"allup/model/words"
)

// Basis says what a pack's circuit rests on.
type Basis string

// What a circuit rests on, best first.
const (
	BasisLogs   Basis = "logs"   // fitted to full bench logs
	BasisTested Basis = "tested" // identified from tested metrics
	BasisLabel  Basis = "label"  // guessed from the label
)

// Pack is a catalogue pack with its circuit.
type Pack struct {
	*catalog.Pack
	Circuit model.Circuit
	Basis   Basis
	Remarks []Remark

	// Standard deviations of capacity and resistance, relative: of the fit or identification, what a circuit gets wrong
	// of a pack, and from unit to unit. SigmaK is that of the charge dependence; what of capacity and resistance goes
	// with it is Steeper's, and not in their sigmas.
	SigmaQ, SigmaR, SigmaK float64
	Steeper                model.Steeper
}

// Unit-to-unit scatter of packs (common practice).
const (
	unitSigmaQ = 0.02
	unitSigmaR = 0.08
)

// mostDelivered is how much of its rated capacity a pack's circuit may have before the tested metrics are
// doubted: they are of another pack, or the label is (own judgement).
const mostDelivered = 1.3

// identify makes the circuit of a pack that somebody tested; without one the pack is known by its label, and
// its circuit is [Pack.guess]'s to make. A measurement is never replaced by a label: metrics that no circuit
// meets keep the nearest one, with sigmas that cover what it misses. The residuals are those of an
// identification from metrics.
func (p *Pack) identify(curve model.Curve) []model.Residual {
	p.SigmaQ, p.SigmaR, p.SigmaK = unitSigmaQ, unitSigmaR, model.UsualKSigma
	if p.Tested != nil {
		if said, ok := TestedLow(p.ID, p.Tested.Protocol); ok {
			p.Remarks = append(p.Remarks, said)
		}
	}
	switch {
	case p.Pack.Circuit != nil:
		p.Circuit, p.Basis = *p.Pack.Circuit, BasisLogs
		q, r := model.ModelSigmaQ, model.ModelSigmaR // of a record that states none
		if s := p.CircuitSigmaQ; s > 0 {
			q = float64(s / p.Circuit.Capacity)
		}
		if s := p.CircuitSigmaR; s > 0 {
			r = float64(s / (p.Circuit.R0 + p.Circuit.R1))
		}
		p.SigmaQ, p.SigmaR = math.Hypot(unitSigmaQ, q), math.Hypot(unitSigmaR, r)
		if s := p.CircuitSigmaK; s > 0 {
			p.SigmaK = s
		}
		if p.Tested == nil {
			break
		}
		// The circuit is the logs'; whether it goes with the metrics tells how far to believe either.
		id := model.Identification{Circuit: p.Circuit, Residuals: model.MetricResiduals(p.Circuit, *p.Tested)}
		if worst, bad := id.Doubtful(); bad {
			p.widen(model.Misfit(p.Circuit, id.Residuals, *p.Tested))
			p.doubt("has a circuit whose simulated test is %.1f sigma from its tested %s: its band covers that", math.Abs(worst.Sigma), worst.Metric)
		}
	case p.Tested != nil:
		e, err := model.Explain(model.NewCircuit(p.Cells, curve, p.Mass), model.Label{Chemistry: p.Chemistry, Rated: p.Rated}, *p.Tested)
		if err != nil {
			p.Basis = BasisLabel
			p.doubt("has tested metrics that no circuit comes near: %v", err)
			return nil
		}
		p.Circuit, p.Basis = e.Circuit, BasisTested
		p.Steeper = e.Steeper
		p.SigmaQ = math.Hypot(p.SigmaQ, math.Hypot(without(e.SigmaQ, e.Steeper.LogQ), model.ModelSigmaQ))
		p.SigmaR = math.Hypot(p.SigmaR, math.Hypot(without(e.SigmaR, e.Steeper.LogR), model.ModelSigmaR))
		p.widen(e.MisfitQ, e.MisfitR)
		p.explain(&e)
		return e.Residuals
	default:
		p.Basis = BasisLabel
	}
	return nil
}

// without is a standard deviation less an independent part of it.
func without(sigma, part float64) float64 { return math.Sqrt(max(0, sigma*sigma-part*part)) }

// inWords names a residual in a sentence after "the".
func inWords(metric string) string {
	if metric == "shift" {
		return "usual height of its curve"
	}
	return metric
}

// widen adds what a circuit misses of the metrics to its sigmas.
func (p *Pack) widen(misfitQ, misfitR float64) {
	p.SigmaQ, p.SigmaR = math.Hypot(p.SigmaQ, misfitQ), math.Hypot(p.SigmaR, misfitR)
}

// explain says what of the tested metrics is not as usual, and what of them nothing explains.
func (p *Pack) explain(e *model.Explanation) {
	worst, bad := e.Doubtful()
	off := math.Abs(worst.Sigma)
	switch {
	case e.Unusual != "":
		p.Remarks = append(p.Remarks, remark(Unusual, p.ID, "has tested metrics that go together only if %s: that is assumed", e.Unusual))
	case e.LeftOut != "":
		p.doubt("has a tested %s that its other metrics contradict, by %.0f sigma: the circuit is made without it, and its band covers it", e.LeftOut, off)
	case bad:
		p.doubt("has tested metrics that contradict each other: no circuit comes nearer than %.1f sigma to the %s, whatever its curve, charge dependence and heat; its band covers that", off, inWords(worst.Metric))
	}
	if share := float64(e.Circuit.Capacity / p.Rated); share > mostDelivered {
		p.doubt("has tested metrics of a pack with %.0f %% of the rated capacity: its label or its test is another pack's", 100*share)
	}
}

// guess makes the circuit of a pack that nobody tested.
func (p *Pack) guess(curve model.Curve, r labelResistance) {
	p.Circuit = model.LabelCircuit(model.NewCircuit(p.Cells, curve, p.Mass), p.Rated, r.median)
	p.SigmaQ = model.LabelCapacitySigma / model.LabelCapacity
	p.SigmaR = model.LabelRSigma
	const like = "of its chemistry, cells and like size"
	from := "the median of " + words.Count(r.tested, "tested pack", "tested packs") + " " + like + " are assumed"
	if r.tested == 0 {
		from = "usual packs are assumed, as there is no tested pack " + like
	}
	why := "is known by its label only"
	if p.Tested != nil {
		why = "is taken by its label"
	}
	p.Remarks = append(p.Remarks, remark(LabelOnly, p.ID,
		"%s: %.2f of the rated capacity and the resistance of %s; see its band", why, model.LabelCapacity, from))
}

// TestTemperature is the highest that its tests warmed a tested pack to, as its circuit has it.
func (p *Pack) TestTemperature() model.Temperature {
	return p.Circuit.TestTemperature(p.Tested.Protocol)
}

// hasRemark reports whether a code is among the pack's remarks.
func (p *Pack) hasRemark(code Code) bool {
	return slices.ContainsFunc(p.Remarks, func(r Remark) bool { return r.Code == code })
}

func (p *Pack) doubt(format string, args ...any) {
	p.Remarks = append(p.Remarks, remark(Doubtful, p.ID, format, args...))
}
