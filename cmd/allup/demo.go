package main

import (
	"fmt"
	"strings"

	"allup/cmd/allup/internal/sheet"
	"allup/model/words"
	"allup/planner"
)

// demoMark marks an invented record wherever one is listed.
const demoMark = "I"

// markWords is what a mark says, the same wherever it stands.
func markWords(mark rune) string {
	switch mark {
	case 'F':
		return "on the front, which no other here beats in time and punch together"
	case 'L':
		return "known by its label only, untested"
	case 'D':
		return "doubtful: its tested figures contradict each other, or its label"
	case 'B':
		return "circuit from full bench logs"
	case 'K':
		return "converted by its circuit, since its own test was another"
	case 'I':
		return "an invented demo record"
	case 'P':
		return "a part of it has no price"
	case 'W':
		return "a warning, in these notes"
	}
	panic("allup: no such mark")
}

// marksNote says what the marks of a screen mean.
func marksNote(marks string) string {
	var texts []string
	for _, m := range marks {
		texts = append(texts, string(m)+" "+markWords(m))
	}
	return "Marks: " + strings.Join(texts, "; ") + "."
}

const demoMarkNote = "Mark I: an invented demo record. Its figures are plausible, and of no real product."

func demoMarkOf(demo bool) sheet.Cell {
	if demo {
		return sheet.Word(demoMark)
	}
	return sheet.Word("")
}

// demoPartsNote names the invented parts of a build.
func demoPartsNote(p *planner.Plan) []string {
	ids := p.DemoParts()
	if len(ids) == 0 {
		return nil
	}
	return []string{fmt.Sprintf("Invented demo records in this build: %s. Their figures are plausible, and of no real product.", strings.Join(ids, ", "))}
}

// leftOutNotes say which packs were not looked at, and how to get them.
func leftOutNotes(l planner.LeftOut) []string {
	var notes []string
	if n := len(l.Demo); n > 0 {
		notes = append(notes, fmt.Sprintf("%s left out beside packs of your own; --demo brings them back.", isAre(n, "invented demo pack", "invented demo packs")))
	}
	if n := len(l.Other); n > 0 {
		notes = append(notes, fmt.Sprintf("%s not looked at, since the build names those that it asks for: %s.", isAre(n, "pack", "packs"), words.FirstFew(l.Other, 8)))
	}
	return notes
}

func isAre(n int, one, many string) string {
	if n == 1 {
		return "1 " + one + " is"
	}
	return fmt.Sprintf("%d %s are", n, many)
}

// ownPacks reports how many of assessed packs are the user's own.
func ownPacks(lists ...[]planner.Assessment) (own, demo int) {
	for _, list := range lists {
		for i := range list {
			if list[i].Pack.Demo() {
				demo++
			} else {
				own++
			}
		}
	}
	return own, demo
}

// demoWarning says in a verdict that the best pack is an invented one, where real ones are beside it.
func demoWarning(r *planner.Ranking) string {
	if own, _ := ownPacks(r.Ranked, r.Excluded); own == 0 || !r.Ranked[0].Pack.Demo() {
		return ""
	}
	for i := range r.Ranked {
		if p := r.Ranked[i].Pack; !p.Demo() {
			return fmt.Sprintf(" It is an INVENTED demo record; best of your own: %s.", p.ID)
		}
	}
	return " It is an INVENTED demo record; none of your own suits."
}

type jsonLeftOut struct {
	Demo  []string `json:"demo"`
	Other []string `json:"not_asked_for"`
}

func leftOutJSON(l planner.LeftOut) jsonLeftOut {
	return jsonLeftOut{append([]string{}, l.Demo...), append([]string{}, l.Other...)}
}

func demoPartsJSON(p *planner.Plan) []string { return append([]string{}, p.DemoParts()...) }
