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

// ScoreField scores and marks builds as a ranking does.
func ScoreField(field []Assessment, goal catalog.Goal) {
	score(field, goal)
	markFront(field)
}
