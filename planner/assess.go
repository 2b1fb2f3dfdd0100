package planner

import (
	"slices"

	"allup/model"
)

// Assessment is what a build does on one pack, or why it does not take it.
type Assessment struct {
	Candidate
	Spare  model.Mass // below the limit, with what is kept back taken off
	Margin model.Mass // below the limit

	PunchLanding model.Punch // at the charge left on landing
	HoverC       float64     // hover current over rated capacity, 1/h

	BurstPower    *model.Power // tested, nil where nobody did
	PowerDensity  *float64     // W/kg, of BurstPower
	EnergyDensity *float64     // J/kg, tested

	Band  *Band
	Quick *Band       // first-order, where Band is from draws
	Home  *Assessment // by ranking, under the build's own conditions, without a band; nil where no others were asked for

	slopes slopes

	// Filled by ranking.
	Rank  int // from 1
	Merit Merit
	Score float64 // the merit over the geometric mean of those that it compares with
	Front bool    // no other eligible pack beats it in both flight time and punch
	Chances
}

// Eligible reports whether nothing speaks against the pack.
func (a *Assessment) Eligible() bool { return a.against == 0 }

// Against is every reason against the pack, in words.
func (a *Assessment) Against() []Remark { return a.against.remarks(&a.Candidate, packReasons) }

// AgainstCodes is every reason against the pack without the words.
func (a *Assessment) AgainstCodes() []Code { return a.against.codes(packReasons) }

// Warnings is every doubt and caution, in words: of the pack itself, then of the build on it.
func (a *Assessment) Warnings() []Remark {
	return slices.Concat(a.packRemarks(), a.cautions.remarks(&a.Candidate, packCautions))
}

// Warns reports whether a code is among the warnings.
func (a *Assessment) Warns(code Code) bool {
	return a.cautions&only(packCautions, code) != 0 || a.Pack != nil && a.Pack.hasRemark(code)
}

// WarningCodes is every warning without the words.
func (a *Assessment) WarningCodes() []Code {
	var codes []Code
	for _, r := range a.packRemarks() {
		codes = append(codes, r.Code)
	}
	return append(codes, a.cautions.codes(packCautions)...)
}

// packRemarks is what is said of the pack itself, none where there is no pack.
func (a *Assessment) packRemarks() []Remark {
	if a.Pack == nil {
		return nil
	}
	return a.Pack.Remarks
}

// Assess answers one pack, without a band.
func (p *Plan) Assess(pack *Pack) Assessment {
	var a Assessment
	p.assess(&a, pack)
	return a
}

// assess is Assess into memory that is zero.
func (p *Plan) assess(a *Assessment, pack *Pack) {
	c := &a.Candidate
	p.candidate(c, pack)
	limit := p.Build.Limit
	a.Margin = limit.Mass - a.Mass
	a.Spare = a.Margin - limit.Spare

	c.fly()
	a.PunchLanding = p.Drive.PunchOut(c.Circuit.At(a.EndTemperature(), c.Circuit.Air), a.ChargeLeft())
	a.HoverC = float64(a.Flight.Current) / pack.Rated.AmpHours()
	c.against = brokenBy(c, packReasons)
	c.cautions = brokenBy(c, packCautions)
	a.densities()
}

// candidate puts a pack on the build; it does not fly yet.
func (p *Plan) candidate(c *Candidate, pack *Pack) {
	c.Plan, c.Pack, c.PackMass = p, pack, p.PackItem(pack.Pack).Each
	c.Mass, _ = p.With(pack.Pack)
	c.OverChance = p.Build.Limit.ChanceOver(c.Mass, p.SpreadWith(pack.Pack))
}

// circuitOf is a pack's circuit as the build flies it: at the build's pack temperature, or as it was tested, in
// the build's air where that has a temperature of its own.
func (p *Plan) circuitOf(pack *Pack) model.Circuit {
	t := pack.Circuit.StartTemperature()
	if own := p.Build.Air.PackTemperature; own != nil {
		t = *own
	}
	air := t
	if own := p.Build.Air.Temperature; own != nil {
		air = *own
	}
	return pack.Circuit.At(t, air)
}

func (a *Assessment) densities() {
	t := a.Pack.Tested
	if t == nil || a.PackMass <= 0 || a.Pack.Basis == BasisLabel {
		return
	}
	if burst := burstPower(*t, a.Pack.Cells); burst > 0 {
		w := float64(burst) / float64(a.PackMass)
		a.BurstPower, a.PowerDensity = &burst, &w
	}
	if t.Energy > 0 {
		e := float64(t.Energy) / float64(a.PackMass)
		a.EnergyDensity = &e
	}
}
