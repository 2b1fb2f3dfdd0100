package draw

import (
	"fmt"
	"slices"
	"strings"

	"allup/model"
	"allup/planner"
)

// Flight is the loaded voltage over the flight on the packs given, with the landing voltage and what ended each. It is
// nil where none of them flies.
func Flight(p *planner.Plan, packs []planner.Assessment) *Drawing {
	s := scene{}
	v, t := extent{}, extent{}
	t.include(0)
	var says, short []string // short labels are for phones
	open := false            // an open ring says that the reserve ends a flight
	title := ""
	land := landingOf(p, packs)
	v.include(land)
	for i := range packs {
		a := &packs[i]
		if a.Duration() <= 0 {
			continue
		}
		cells := float64(a.Pack.Cells)
		k := curve{id: a.Pack.ID, ink: series(i), dash: i, width: 1.8}
		p.Drive.Trace(a.Circuit, a.Mass, p.MissionOn(a.Pack.Chemistry), func(m model.Moment) {
			at := xy{m.Time.Minutes(), float64(m.Voltage) / cells}
			k.line = append(k.line, at)
			t.include(at.x)
			v.include(at.y)
		})
		end := "its voltage"
		if a.EndedBy() == model.EndedByReserve {
			end = fmt.Sprintf("its reserve of %.0f %%", 100*p.Build.Flight.Reserve)
		}
		k.label = fmt.Sprintf("%s: %s, %s", a.Pack.ID, minutes(a.Duration()), map[model.Ending]string{model.EndedByReserve: "reserve", model.EndedByVoltage: "voltage"}[a.EndedBy()])
		short = append(short, fmt.Sprintf("%s %s", a.Pack.ID, minutes(a.Duration())))
		open = open || a.EndedBy() == model.EndedByReserve
		k.says = fmt.Sprintf("%s lands after %s on %s", a.Pack.ID, minutes(a.Duration()), end)
		if title == "" {
			title = k.says
		}
		says = append(says, k.says)
		s.curves = append(s.curves, k)
		last := k.line[len(k.line)-1]
		s.points = append(s.points, point{id: a.Pack.ID, at: last, ink: k.ink, radius: 3.6, hollow: a.EndedBy() == model.EndedByReserve})
	}
	if len(s.curves) == 0 {
		return nil
	}
	if len(p.Build.Flight.Phases) > 0 {
		title += ", flying its phases"
	}
	s.rules = []rule{{at: land, horizontal: true, ink: inkLimit, label: fmt.Sprintf("landing voltage %.2f V", land)}}
	s.x, s.y = axis{label: "time, min"}, axis{label: "loaded voltage per cell, V"}
	_, s.x.max = t.padded()
	s.y.min, s.y.max = v.padded()
	return &Drawing{
		Name: FileName("voltage", p.Build.Name), Title: title,
		Says: fmt.Sprintf("Loaded voltage per cell over the flight, falling from full; the landing voltage is %.2f V. %s.", land, strings.Join(says, "; ")),
		wide: 0.5, tall: 0.9, panels: []panel{{1, func(narrow bool) sight {
			if !narrow {
				return s
			}
			s := s
			s.curves = slices.Clone(s.curves)
			for i := range s.curves {
				s.curves[i].label = short[i]
			}
			if open {
				s.x.label += " (a ring: ends on the reserve)"
			}
			return s
		}}},
	}
}

// landingOf is the landing voltage of the packs, of the first of them where the build leaves it to their chemistry.
func landingOf(p *planner.Plan, packs []planner.Assessment) float64 {
	if len(packs) == 0 || packs[0].Pack == nil {
		return float64(p.Build.Flight.LandPerCell)
	}
	return float64(p.MissionOn(packs[0].Pack.Chemistry).Landing.PerCell)
}
