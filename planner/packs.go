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
	// of a pack, and from unit to unit. SigmaK is that of the charge dependence.
	SigmaQ, SigmaR, SigmaK float64
}

// Unit-to-unit scatter of packs (common practice).
const (
	unitSigmaQ = 0.02
	unitSigmaR = 0.08
)

// mostDelivered is the greatest share of its rated capacity that a pack's tests may find before its label says more (own
// judgement).
const mostDelivered = 1.3

// identify makes the circuit of a pack that somebody tested; without one the pack is known by its label, and its circuit
// is [Pack.guess]'s to make. The residuals are those of an identification from metrics.
func (p *Pack) identify(curve model.Curve) []model.Residual {
	p.SigmaQ, p.SigmaR, p.SigmaK = unitSigmaQ, unitSigmaR, model.UsualKSigma
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
			p.SigmaQ, p.SigmaR = 3*p.SigmaQ, 3*p.SigmaR
			p.doubt("has a circuit whose simulated test is %.1f sigma from its tested %s", math.Abs(worst.Sigma), worst.Metric)
		}
	case p.Tested != nil:
		p.Basis = BasisLabel // unless the metrics give a circuit that can be
		id, err := model.Identify(model.NewCircuit(p.Cells, curve, p.Mass), *p.Tested)
		worst, bad := id.Doubtful()
		share := float64(id.Circuit.Capacity / p.Rated)
		switch {
		case err != nil:
			p.doubt("has tested metrics that are not used: %v", err)
			return nil
		case id.Hopeless():
			p.doubt("has tested metrics that are not used: no circuit comes nearer than %.0f sigma to the %s", math.Abs(worst.Sigma), worst.Metric)
			return id.Residuals
		case share > mostDelivered:
			p.doubt("has tested metrics that are not used: they are those of a pack with %.0f %% of the rated capacity", 100*share)
			return id.Residuals
		}
		p.Circuit, p.Basis = id.Circuit, BasisTested
		p.SigmaQ = math.Hypot(p.SigmaQ, math.Hypot(id.SigmaQ, model.ModelSigmaQ))
		p.SigmaR = math.Hypot(p.SigmaR, math.Hypot(id.SigmaR, model.ModelSigmaR))
		if bad {
			// The metrics allow anything between them: widen by what they disagree.
			p.SigmaQ, p.SigmaR = 3*p.SigmaQ, 3*p.SigmaR
			p.doubt("has tested metrics that contradict each other: no circuit comes nearer than %.1f sigma to the %s", math.Abs(worst.Sigma), worst.Metric)
		}
		return id.Residuals
	default:
		p.Basis = BasisLabel
	}
	return nil
}

// guess makes the circuit of a pack that nobody tested.
func (p *Pack) guess(curve model.Curve, r labelResistance) {
	p.Circuit = model.LabelCircuit(model.NewCircuit(p.Cells, curve, p.Mass), p.Rated, r.median)
	p.SigmaQ = model.LabelCapacitySigma / model.LabelCapacity
	p.SigmaR = model.LabelRSigma
	from := "the median of " + words.Count(r.tested, "tested pack", "tested packs") + " of its chemistry, cells and like size"
	if r.tested == 0 {
		from = "common practice, for want of tested packs of its chemistry, cells and like size"
	}
	why := "is known by its label only"
	if p.Tested != nil {
		why = "is taken by its label"
	}
	p.Remarks = append(p.Remarks, remark(LabelOnly, p.ID,
		"%s: %.2f of the rated capacity and the resistance of %s are assumed; see its band", why, model.LabelCapacity, from))
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
