package planner_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"allup/catalog"
	"allup/model"
	"allup/planner"
)

const candidates = `
[board.light]
mass_g = 6
power_w = 0.5
[prop.sized]
mass_g = 1.2
diameter_in = 3
pitch_in = 2
blades = 2
[motor.label]
mass_g = 8
kv = 4100
[frame.lossless]
mass_g = 28
rotors = 4
[gear.h]
mass_g = 10
power_w = 2
[pack.l]
chemistry = "lipo"
cells = 4
rated_mah = 550
mass_g = 63
`

func readBuild(t testing.TB, cat *catalog.Catalogue, build string) *catalog.Build {
	t.Helper()
	b, _, err := catalog.ReadBuild("build.toml", strings.NewReader(build), cat)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// answers is everything that a plan says, in words and figures.
func answers(t testing.TB, p *planner.Plan) []string {
	out := figures(rank(t, p))
	for _, r := range append(append([]planner.Remark{}, p.Warnings...), p.Conflicts...) {
		out = append(out, string(r.Code)+" "+r.Subject+" "+r.Text)
	}
	return append(out, p.Propulsion.Reason, fmt.Sprint(p.Weigh().Mass, p.Drive.GearPower, p.PowerSigma()))
}

// TestSelectionIsTheBuildWithThoseParts: a selection resolved is the same as a build file that names those parts, with
// one cache for all of them, and leaves build and plans as they were.
func TestSelectionIsTheBuildWithThoseParts(t *testing.T) {
	_, rows := standRows(t)
	cat := parts(t, example, candidates, thrustTest(rows))
	b := readBuild(t, cat, exampleBuild)
	first, err := planner.SelectionOf(b)
	if err != nil {
		t.Fatal(err)
	}
	plain := plan(t, cat, exampleBuild)
	was := answers(t, plain)
	height, cold := model.Length(1500), model.Celsius(2)
	rotors := planner.NewRotorCache(cat)
	for _, c := range []struct {
		file, record string
		put          func(*planner.Selection)
	}{
		{`frame = "f"`, `frame = "lossless"`, func(s *planner.Selection) { s.Frame = cat.Frames["lossless"] }},
		{`motor = "m"`, `motor = "label"`, func(s *planner.Selection) { s.Motor = cat.Motors["label"] }},
		{`prop = "p"`, `prop = "sized"`, func(s *planner.Selection) { s.Prop = cat.Props["sized"] }},
		{`board = "b"`, `board = "light"`, func(s *planner.Selection) { s.Board = cat.Boards["light"] }},
		{`gear = ["g"]`, `gear = ["g", "h", "h"]`, func(s *planner.Selection) { s.Gear = []*catalog.Gear{cat.Gear["g"], cat.Gear["h"], cat.Gear["h"]} }},
		{`pack = "k"`, `pack = "l"`, func(s *planner.Selection) { s.Pack = cat.Packs["l"] }},
	} {
		for name, conditions := range map[string]planner.Conditions{"as the file says": {}, "high and cold": {Altitude: &height, Pack: &cold}} {
			want, err := plan(t, cat, strings.Replace(exampleBuild, c.file, c.record, 1)).In(conditions)
			if err != nil {
				t.Fatal(err)
			}
			s := first
			c.put(&s)
			got, err := s.Resolve(b, conditions, rotors)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(answers(t, want), answers(t, got)); diff != "" {
				t.Errorf("%s, %s (-file +selection):\n%s", c.record, name, diff)
			}
		}
	}
	if diff := cmp.Diff(was, answers(t, plain)); diff != "" {
		t.Errorf("resolving selections changed a plan:\n%s", diff)
	}
	if b.Air.Altitude != 500 || b.Air.PackTemperature != nil {
		t.Errorf("resolving changed the build's air to %+v", b.Air)
	}
}

// TestRotorCacheFitsOnce: one fit of a pair's thrust test serves every board and every air.
func TestRotorCacheFitsOnce(t *testing.T) {
	_, rows := standRows(t)
	cat := parts(t, example, candidates, thrustTest(rows))
	b := readBuild(t, cat, exampleBuild)
	s, err := planner.SelectionOf(b)
	if err != nil {
		t.Fatal(err)
	}
	rotors := planner.NewRotorCache(cat)
	fit := func(board string, altitude model.Length) *model.ThrustFit {
		s := s
		s.Board = cat.Boards[board]
		p, err := s.Resolve(b, planner.Conditions{Altitude: &altitude}, rotors)
		if err != nil {
			t.Fatal(err)
		}
		if p.Propulsion.Base != model.FromThrustTest || p.Propulsion.Fit == nil {
			t.Fatalf("rests on %+v, want the thrust test", p.Propulsion)
		}
		return p.Propulsion.Fit
	}
	one := fit("b", 0)
	if fit("light", 0) != one || fit("b", 2000) != one {
		t.Error("the test was fitted again")
	}
}

// TestConditionsAdd: conditions of conditions keep what they do not name, and hovers stay those of the file's air.
func TestConditionsAdd(t *testing.T) {
	flown := exampleBuild + "[hover]\nflown = [{ mass_g = 238.4, power_w = 57 }]\n"
	p := plan(t, parts(t, example), flown)
	height, cold := model.Length(2500), model.Celsius(5)
	high, err := p.In(planner.Conditions{Altitude: &height})
	if err != nil {
		t.Fatal(err)
	}
	both, err := high.In(planner.Conditions{Pack: &cold})
	if err != nil {
		t.Fatal(err)
	}
	if both.Build.Air.Altitude != height || *both.Build.Air.PackTemperature != cold || *both.Build.Air.Temperature != model.Celsius(20) {
		t.Errorf("the air is %+v", both.Build.Air)
	}
	if k := both.Propulsion.Calibration; k == nil || k.Factor != p.Propulsion.Calibration.Factor {
		t.Errorf("calibrated by %+v in other air, by %+v in the build's own", k, p.Propulsion.Calibration)
	}
	again, err := p.In(planner.Conditions{Altitude: &height, Pack: &cold})
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(answers(t, again), answers(t, both)); diff != "" {
		t.Errorf("one by one is not at once:\n%s", diff)
	}
}

// BenchmarkResolveSelection is a plan for other parts whose rotor is known.
func BenchmarkResolveSelection(b *testing.B) {
	cat := parts(b, example, candidates)
	build := readBuild(b, cat, exampleBuild)
	s, err := planner.SelectionOf(build)
	if err != nil {
		b.Fatal(err)
	}
	rotors := planner.NewRotorCache(cat)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := s.Resolve(build, planner.Conditions{}, rotors); err != nil {
			b.Fatal(err)
		}
	}
}
