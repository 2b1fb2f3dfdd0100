package planner

import (
	"fmt"
	"runtime"
	"sync"
	"sync/atomic"

	"allup/catalog"
	"allup/model"
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

	// Standard deviations of capacity and resistance, relative.
	SigmaQ, SigmaR float64

	err error
}

// Unit-to-unit scatter of packs (common practice).
const (
	unitSigmaQ = 0.02
	unitSigmaR = 0.08
)

// Progress is told how much of a long work is done. It may be called from several
// goroutines at once. Nil is no progress.
type Progress func(done, total int)

// PreparePacks makes a circuit of every pack of a catalogue, in the order of their ids,
// on all processors.
func PreparePacks(cat *catalog.Catalogue, progress Progress) ([]Pack, error) {
	ids := cat.IDs(catalog.KindPack)
	packs := make([]Pack, len(ids))
	curves := map[model.Chemistry]model.Curve{}
	for _, c := range model.Chemistries() {
		curve, err := model.CurveOf(c)
		if err != nil {
			return nil, err
		}
		curves[c] = curve
	}
	for i, id := range ids {
		packs[i].Pack = cat.Packs[id]
	}
	parallel(len(packs), progress, func(i int) { packs[i].identify(curves) })

	circuits := map[model.Chemistry][]model.Circuit{}
	for i := range packs {
		if packs[i].err != nil {
			return nil, fmt.Errorf("pack %s: %w", packs[i].ID, packs[i].err)
		}
		if packs[i].Basis != BasisLabel && !packs[i].doubtful() {
			circuits[packs[i].Chemistry] = append(circuits[packs[i].Chemistry], packs[i].Circuit)
		}
	}
	for i := range packs {
		if p := &packs[i]; p.Basis == BasisLabel {
			p.guess(curves[p.Chemistry], circuits[p.Chemistry])
		}
	}
	return packs, nil
}

// PackOf makes the circuit of one pack among those of its catalogue. The residuals are those of
// its identification, nil where it was not identified.
func PackOf(cat *catalog.Catalogue, id string) (Pack, []model.Residual, error) {
	p := cat.Packs[id]
	if p.Tested == nil && p.Circuit == nil {
		// A label needs the median of the tested packs.
		packs, err := PreparePacks(cat, nil)
		for i := range packs {
			if packs[i].ID == id {
				return packs[i], nil, err
			}
		}
		return Pack{}, nil, err
	}
	curve, err := model.CurveOf(p.Chemistry)
	if err != nil {
		return Pack{}, nil, err
	}
	one := Pack{Pack: p}
	residuals := one.identify(map[model.Chemistry]model.Curve{p.Chemistry: curve})
	return one, residuals, one.err
}

func (p *Pack) identify(curves map[model.Chemistry]model.Curve) []model.Residual {
	p.SigmaQ, p.SigmaR = unitSigmaQ, unitSigmaR
	switch {
	case p.Pack.Circuit != nil:
		p.Circuit, p.Basis = *p.Pack.Circuit, BasisLogs
	case p.Tested != nil:
		id, err := model.Identify(p.Cells, curves[p.Chemistry], *p.Tested)
		if err != nil {
			p.err = err
			return nil
		}
		p.Circuit, p.Basis = id.Circuit, BasisTested
		if worst, bad := id.Doubtful(); bad {
			// The metrics allow anything between them: widen by what they disagree.
			p.SigmaQ, p.SigmaR = 3*p.SigmaQ, 3*p.SigmaR
			p.Remarks = append(p.Remarks, remark(Doubtful, p.ID,
				"tested metrics contradict each other: no circuit comes nearer than %.1f sigma to the %s", absolute(worst.Sigma), worst.Metric))
		}
		return id.Residuals
	default:
		p.Basis = BasisLabel
	}
	return nil
}

// guess makes the circuit of a pack that nobody tested.
func (p *Pack) guess(curve model.Curve, tested []model.Circuit) {
	r := model.MedianSteadyR(tested)
	p.Circuit = model.LabelCircuit(p.Cells, curve, p.Rated, r)
	p.SigmaQ = model.LabelCapacitySigma / model.LabelCapacity
	p.SigmaR = model.LabelRSigma
	from := fmt.Sprintf("the median of %d tested %s packs", len(tested), p.Chemistry)
	if len(tested) == 0 {
		from = "common practice, for want of tested packs of its chemistry"
	}
	p.Remarks = append(p.Remarks, remark(LabelOnly, p.ID,
		"label only, nobody tested it: %.2f of the rated capacity and the resistance of %s are assumed; see its band", model.LabelCapacity, from))
}

func (p *Pack) doubtful() bool {
	for _, r := range p.Remarks {
		if r.Code == Doubtful {
			return true
		}
	}
	return false
}

func absolute(v float64) float64 { return max(v, -v) }

// parallel runs work for 0 to n-1 on all processors.
func parallel(n int, progress Progress, work func(i int)) {
	const batch = 64
	var next, done atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), (n+batch-1)/batch) {
		wg.Go(func() {
			for {
				from := int(next.Add(batch)) - batch
				if from >= n {
					return
				}
				to := min(from+batch, n)
				for i := from; i < to; i++ {
					work(i)
				}
				if d := done.Add(int64(to - from)); progress != nil {
					progress(int(d), n)
				}
			}
		})
	}
	wg.Wait()
}
