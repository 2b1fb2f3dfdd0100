package main

import (
	"fmt"

	"allup/cmd/allup/internal/sheet"
	"allup/model"
	"allup/model/words"
	"allup/planner"
)

// lossTable is where the power of hovering goes at the mass that was weighed.
func lossTable(w *planner.Weighing) *sheet.Table {
	h := w.Hover()
	t := &sheet.Table{
		Title: fmt.Sprintf("Where %.1f W go in hover at %s, %.1f V", float64(h.Power), words.Grams(w.Mass), float64(h.Bus)),
		Columns: []sheet.Column{
			{Head: "where", Key: "place", Left: true},
			{Head: "W", Key: "power_w"},
			{Head: "% of power", Key: "of_power_percent"},
			{Head: "what it is", Key: "what", Left: true, Wrap: true},
		},
	}
	for _, l := range w.Plan.Drive.Losses(h) {
		if l.Power != 0 {
			t.Add(sheet.Word(string(l.Place)), sheet.Number(float64(l.Power), 2), sheet.Number(100*l.Share, 1), sheet.Word(placeWords(l.Place)))
		}
	}
	return t
}

// placeWords say what takes power at a place.
func placeWords(p model.Place) string {
	switch p {
	case model.PlaceLift:
		return "ideal, of the weight: the least for propellers of this size"
	case model.PlaceFrame:
		return "thrust lost to arms, guards, ducts"
	case model.PlaceInduced:
		return "blades: a wake that is not even"
	case model.PlaceProfile:
		return "blades: their drag"
	case model.PlaceCopper:
		return "motors: current through the windings"
	case model.PlaceNoLoad:
		return "motors: bearings, iron, air"
	case model.PlacePartDuty:
		return "motors and controllers at less than full throttle"
	case model.PlaceController:
		return "controllers: their efficiency"
	case model.PlaceFlown:
		return "what flown hovers took more than these; below 0 less"
	}
	return "board, camera, transmitter, receiver"
}

// jsonLoss is where a part of the power goes.
type jsonLoss struct {
	Place  string  `json:"place"`
	PowerW float64 `json:"power_w"`
	Share  float64 `json:"share"`
}

func lossesJSON(losses []model.Loss) []jsonLoss {
	out := []jsonLoss{}
	for _, l := range losses {
		out = append(out, jsonLoss{string(l.Place), float64(l.Power), l.Share})
	}
	return out
}

// jsonStandLoss is where the power goes at the thrust of a stand's row.
type jsonStandLoss struct {
	ThrustG  float64    `json:"thrust_g"`
	VoltageV float64    `json:"voltage_v"`
	PowerW   float64    `json:"power_w"`
	Losses   []jsonLoss `json:"losses"`
}

// losses shows where the power goes at each row's thrust, by the fit.
func (p *part) losses(rows []planner.StandLoss) {
	t := &sheet.Table{
		Title:   "Where the power goes, by the fit, % of it",
		Columns: []sheet.Column{{Head: "thrust g", Key: "thrust_g"}, {Head: "V", Key: "voltage_v", Keep: 2}, {Head: "W", Key: "power_w"}},
	}
	for n, row := range rows {
		h := row.Hover
		cells := []sheet.Cell{sheet.Number(h.Mass.Grams(), 0), sheet.Number(float64(h.Bus), 2), sheet.Number(float64(h.Power), 2)}
		for _, l := range row.Losses {
			if n == 0 {
				t.Columns = append(t.Columns, sheet.Column{Head: string(l.Place), Key: string(l.Place) + "_percent"})
			}
			cells = append(cells, sheet.Number(100*l.Share, 1))
		}
		t.Add(cells...)
		p.lost = append(p.lost, jsonStandLoss{h.Mass.Grams(), float64(h.Bus), float64(h.Power), lossesJSON(row.Losses)})
	}
	p.tables = append(p.tables, t)
}
