package main

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"allup/catalog"
	"allup/cmd/allup/internal/sheet"
	"allup/model"
	"allup/model/words"
	"allup/planner"
)

// sureFlag is how sure of keeping its limit a build is to be, instead of what its file says.
type sureFlag struct{ sure *float64 }

func (s *sureFlag) register(flags *pflag.FlagSet) {
	flags.Var(&quantityFlag[float64]{target: &s.sure, read: parseSure}, "sure", "keep the limit with this `chance`: 95%; a pack that keeps it less surely does not suit")
}

// apply puts the flag over what a build says.
func (s *sureFlag) apply(b *catalog.Build) {
	if s.sure != nil {
		b.Limit.Sure = *s.sure
	}
}

// parseSure reads a chance: 95% or 0.95.
func parseSure(text string) (float64, error) {
	number, percent := strings.CutSuffix(strings.TrimSpace(text), "%")
	v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	if percent {
		v /= 100
	}
	switch {
	case err != nil || math.IsNaN(v) || math.IsInf(v, 0):
		return 0, errors.New("it is a chance, such as 95%")
	case v < catalog.LeastSure || v > catalog.MostSure:
		return 0, fmt.Errorf("allowed: %g%% to %g%%", 100*catalog.LeastSure, 100*catalog.MostSure)
	}
	return v, nil
}

// rulesNote says how a mass stands with each of several rules that a build names; none for one rule.
func rulesNote(l catalog.BuildLimit, m model.Mass, spread model.MassSpread) []string {
	if len(l.Named) < 2 {
		return nil
	}
	var parts []string
	for _, n := range l.Named {
		text := fmt.Sprintf("keeps %s by %s", n.Rule, words.Grams(n.Mass-m))
		switch {
		case !n.Allows(m) && n.At(m):
			text = fmt.Sprintf("is at the limit of %s, which asks for less", n.Rule)
		case !n.Allows(m):
			text = fmt.Sprintf("BREAKS %s by %s", n.Rule, words.Grams(m-n.Mass))
		}
		parts = append(parts, fmt.Sprintf("%s (chance of breaking it %s)", text, words.Chance(n.ChanceOver(m, spread))))
	}
	return []string{fmt.Sprintf("%s %s.", words.Grams(m), words.List(parts, "and"))}
}

// allLimitsTable is a mass against every threshold that allup knows, with what each asks for besides.
func allLimitsTable(w *planner.Weighing) *sheet.Table {
	t := &sheet.Table{Title: fmt.Sprintf("%s against every threshold; a mass is not all that they ask for", words.Grams(w.Mass)), Columns: []sheet.Column{
		{Head: "rule", Key: "rule", Left: true},
		{Head: "passes when", Key: "passes_when", Left: true, Keep: 1},
		{Head: "this mass", Key: "answer", Left: true},
		{Head: "under g", Key: "margin_g"},
		{Head: "chance over limit %", Key: "over_limit_chance_percent"},
		{Head: "where", Key: "where", Left: true, Wrap: true, Keep: 3, Least: 12},
		{Head: "mass that counts", Key: "counts", Left: true, Wrap: true, Keep: 4, Least: 14},
		{Head: "asks for as well", Key: "besides", Left: true, Wrap: true, Least: 16},
		{Head: "what it changes", Key: "relieves", Left: true, Wrap: true, Keep: 2, Least: 20},
		{Head: "read in", Key: "source", Left: true, Keep: 5},
	}}
	for _, a := range w.AgainstAll() {
		margin, chance := sheet.Unknown(), sheet.Unknown()
		if a.Limit != nil {
			margin, chance = sheet.Number(a.Margin.Grams(), 2), sheet.Number(100*a.OverChance, 0)
		}
		t.Add(sheet.Word(a.ID), sheet.Word(a.Published), sheet.Word(passWord(a)), margin, chance, sheet.Word(a.Where), sheet.Word(orDash(a.Counts)),
			sheet.Word(orDash(besides(a))), sheet.Word(a.Relieves), sheet.Word(string(a.Source)))
	}
	return t
}

// passWord says how a mass stands with a threshold.
func passWord(a planner.AgainstThreshold) string {
	switch {
	case a.Limit == nil:
		return "no limit"
	case a.Passes:
		return "passes"
	case a.Limit.At(a.Mass):
		return "AT IT"
	}
	return "FAILS"
}

// besides is what a threshold asks for besides a mass, as far as its text was read.
func besides(a planner.AgainstThreshold) string {
	var parts []string
	if a.Speed != nil {
		parts = append(parts, fmt.Sprintf("greatest speed below %.0f m/s; registration where an impact can transfer more than %.0f J (at %.1f m/s)",
			float64(a.Speed.Below), float64(a.Speed.Transfer), float64(a.Transferring)))
	}
	if a.Camera != "" {
		parts = append(parts, "camera: "+a.Camera)
	}
	return strings.Join(parts, "; ")
}

type jsonAgainst struct {
	Rule         string   `json:"rule"`
	Where        string   `json:"where"`
	Named        bool     `json:"named"` // by the build
	MassG        *float64 `json:"mass_g"`
	Inclusive    *bool    `json:"inclusive"`
	Passes       *bool    `json:"passes"`
	MarginG      *float64 `json:"margin_g"`
	OverChance   *float64 `json:"over_limit_chance"`
	Counts       string   `json:"mass_that_counts"`
	SpeedBelow   *float64 `json:"speed_below_m_s"`
	TransferJ    *float64 `json:"transfer_j"`
	Transferring *float64 `json:"transferring_m_s"`
	Camera       string   `json:"camera"`
	Relieves     string   `json:"relieves"`
	Source       string   `json:"source"`
}

func allLimitsJSON(w *planner.Weighing) []jsonAgainst {
	out := []jsonAgainst{}
	for _, a := range w.AgainstAll() {
		j := jsonAgainst{Rule: a.ID, Where: a.Where, Named: a.Named, Counts: a.Counts, Camera: a.Camera, Relieves: a.Relieves, Source: string(a.Source)}
		if a.Limit != nil {
			j.MassG, j.Inclusive, j.Passes = present(a.Limit.Mass.Grams()), &a.Limit.Inclusive, present(a.Passes)
			j.MarginG, j.OverChance = present(a.Margin.Grams()), present(a.OverChance)
		}
		if a.Speed != nil {
			j.SpeedBelow, j.TransferJ, j.Transferring = present(float64(a.Speed.Below)), present(float64(a.Speed.Transfer)), present(float64(a.Transferring))
		}
		out = append(out, j)
	}
	return out
}
