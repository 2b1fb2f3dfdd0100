package main

import (
	"fmt"
	"slices"
	"strings"

	"allup/catalog"
	"allup/model"
	"allup/model/words"
	"allup/planner"
)

// limitName is a limit in words, with the rule that it comes from.
func limitName(l catalog.BuildLimit) string {
	text := words.Trimmed(l.Mass.Grams(), 2) + " g"
	if l.Rule != "" {
		text += " (" + l.Rule + ")"
	}
	return text
}

// limitNote says what the limit is and what it is not.
func limitNote(p *planner.Plan) string {
	l := p.Build.Limit
	if l.Rule == "" {
		return fmt.Sprintf("Limit: %s, as the build file states it. This compares masses; what the rules of your place ask is for you and your authority.", planner.LimitText(l.Limit))
	}
	if t, ok := catalog.LookupThreshold(l.Rule); ok {
		note := fmt.Sprintf("Limit: %s (%s, %s; %s, %s).", l.Rule, t.Where, t.Instrument, t.Published, t.Counts)
		if t.Source != catalog.OfficialText {
			note += " Known by " + string(t.Source) + ", not from the official text."
		}
		if len(l.Rules) > 1 {
			note += " It is the strictest of " + strings.Join(l.Rules, ", ") + "."
		}
		return note + " This compares masses and is no legal advice; rules change and ask for more than mass: see \"allup limits\" and your authority."
	}
	return ""
}

// clauses are what the thresholds that a build names ask for besides a mass.
func clauses(p *planner.Plan) []string {
	var texts []string
	for _, rule := range p.Build.Limit.Rules {
		t, ok := catalog.LookupThreshold(rule)
		if !ok {
			continue
		}
		if s := t.Speed; s != nil {
			texts = append(texts, fmt.Sprintf("%s asks for a greatest speed under %.0f m/s as well, and for registration where an impact can transfer more than %.0f J", rule, float64(s.Below), float64(s.Transfer)))
		}
		if t.Camera != "" {
			texts = append(texts, fmt.Sprintf("%s with a camera on board: %s", rule, t.Camera))
		}
	}
	if len(texts) == 0 {
		return nil
	}
	return []string{"The mass does not answer everything: " + strings.Join(texts, "; ") + "."}
}

// planWarnings are the warnings about a build's own parts and conditions, for CSV.
func planWarnings(p *planner.Plan) []string {
	return append([]string{}, remarkNotes(slices.Concat(p.Conflicts, p.Warnings))...)
}

// remarkNotes are remarks as notes: the part's id, then what there is to say.
func remarkNotes(remarks []planner.Remark) []string {
	var notes []string
	for _, r := range remarks {
		notes = append(notes, remarkText(r))
	}
	return notes
}

func remarkText(r planner.Remark) string {
	if r.Subject == "" {
		return r.Text
	}
	if strings.Contains(r.Subject, ":") { // a place in a log
		return r.Subject + ": " + r.Text
	}
	return r.Subject + " " + r.Text
}

// joinReasons is every reason against a pack in one text.
func joinReasons(remarks []planner.Remark) string {
	var texts []string
	for _, r := range remarks {
		texts = append(texts, r.Text)
	}
	return strings.Join(texts, "; ")
}

func limitedBy(l model.Limiter) string {
	if l == model.LimitedByThrottle {
		return "throttle"
	}
	return string(l)
}
