package planner

import "allup/catalog"

// Made is how many packs of a set have been made.
func Made(s *PackSet) int { return len(s.made) }

// RulesOf are the reasons against a pack, the cautions about it and the conflicts of parts.
func RulesOf() [][]Rule { return [][]Rule{packReasons, packCautions, partConflicts} }

// CandidateOf is a pack on a build before it flies.
func CandidateOf(p *Plan, pack *Pack) *Candidate {
	var c Candidate
	p.candidate(&c, pack)
	return &c
}

// ScoreField scores and marks builds as a ranking does, prices in the currency of the first.
func ScoreField(field []Assessment, goal catalog.Goal) {
	if goal.Price > 0 && len(field) > 0 {
		goal.Currency = field[0].Pack.Currency
	}
	r := &Ranking{Plan: &Plan{Build: &catalog.Build{Goal: goal}}, Ranked: field}
	r.score()
	markFront(field)
}
