package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"allup/catalog"
	"allup/cmd/allup/internal/sheet"
)

func newLimits(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "limits",
		Short: "Take-off-mass thresholds by jurisdiction, with source and caution",
		Long: `limits lists take-off-mass thresholds near 250 g as published, with unit and
comparison: below 250 g and at most 0.55 lb are different rules. A build names
one or several by id.`,
		Args:              arguments(0, 0, "no argument"),
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: func(*cobra.Command, []string) error {
			return a.answerOf(limitsScreen, limitsJSON) // each reads the thresholds, which is most of what there is to do
		},
	}
}

const (
	limitsCaution = "Read in 2026; rules change. This is no legal advice: allup compares masses, the authority and the text of the rule decide. MTOM is a declared maximum, not the scale's reading: what flies may not exceed it."
	flightCaution = "Air travel with packs: up to 100 Wh in the cabin, spares with protected terminals, never in checked baggage; 101 to 160 Wh with the airline's approval (US TSA, IATA passenger guidance; ask the airline)."
	chargeCaution = "Packs: charge at the maker's rate (1 C unless stated) with a balancing charger, attended, on a surface that does not burn, between 0 and 40 C; never below 3.0 V per cell; a swollen, punctured or crashed pack is neither charged nor flown (US Fire Administration, NFPA; charger manuals)."
)

func limitsScreen() sheet.Screen {
	s := sheet.Screen{Verdict: []string{"Take-off-mass thresholds near 250 g, as published: a mass at or below 249.47 g passes every 250 g class here; the 100 g ones are stricter."}}
	t := &sheet.Table{Columns: []sheet.Column{
		{Head: "id", Key: "id", Left: true},
		{Head: "where", Key: "where", Left: true, Wrap: true, Least: 15},
		{Head: "passes when", Key: "passes_when", Left: true, Wrap: true, Least: 12},
		{Head: "limit g", Key: "mass_g", Keep: 1},
		{Head: "instrument", Key: "instrument", Left: true, Keep: 4},
		{Head: "mass that counts", Key: "counts", Left: true, Keep: 5},
		{Head: "what it changes", Key: "relieves", Left: true, Wrap: true},
		{Head: "read in", Key: "source", Left: true, Keep: 3},
	}}
	for _, l := range catalog.Thresholds() {
		mass := sheet.Unknown()
		if l.Limit != nil {
			mass = sheet.Number(l.Limit.Mass.Grams(), 2)
		}
		t.Add(sheet.Word(l.ID), sheet.Word(l.Where), sheet.Word(l.Published), mass, sheet.Word(l.Instrument), sheet.Word(orDash(l.Counts)), sheet.Word(l.Relieves), sheet.Word(string(l.Source)))
	}
	s.Tables = []*sheet.Table{t}
	s.Notes = []string{limitsCaution, "At exactly 250 g the answer differs between countries.", flightCaution, chargeCaution}
	return s
}

type jsonThreshold struct {
	ID         string   `json:"id"`
	Where      string   `json:"where"`
	Instrument string   `json:"instrument"`
	Published  string   `json:"published"`
	MassG      *float64 `json:"mass_g"`
	Inclusive  *bool    `json:"inclusive"`
	Counts     string   `json:"mass_that_counts"`
	Relieves   string   `json:"relieves"`
	Source     string   `json:"source"`
}

func limitsJSON() any {
	var list []jsonThreshold
	for _, t := range catalog.Thresholds() {
		j := jsonThreshold{ID: t.ID, Where: t.Where, Instrument: t.Instrument, Published: t.Published, Counts: t.Counts, Relieves: t.Relieves, Source: string(t.Source)}
		if t.Limit != nil {
			g := t.Limit.Mass.Grams()
			j.MassG, j.Inclusive = &g, &t.Limit.Inclusive
		}
		list = append(list, j)
	}
	return struct {
		Limits  []jsonThreshold `json:"limits"`
		Caution string          `json:"caution"`
	}{list, fmt.Sprint(limitsCaution)}
}
