package main

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"allup/catalog"
	"allup/model"
	"allup/planner"
)

// cycled is an assessment of stint with a flight of phases: one that is held, one of full throttle, one that
// never began.
func cycled(t *testing.T) (*planner.Plan, *planner.Assessment) {
	t.Helper()
	p := planOf(t, builds(t)["stint"])
	a := p.Assess(packSetOf(t, p.Build.Parts).Pack("sedge-650"))
	a.LandPerCell = 3.5
	a.Cycle = &model.PhaseFlight{
		Duration: 300, FirstMet: 288, EndedIn: 1, Phases: []model.PhaseUse{
			{Phase: model.Phase{Duration: 20, Thrust: 1.15}, Runs: 12, MinVoltage: 14.084, MinAt: 258, MaxCurrent: 5.25, FirstRatio: 1.15, LastRatio: 1.149},
			{Phase: model.Phase{Duration: 1.5, Full: true}, Runs: 12, MinVoltage: 12.4, MinAt: 282, MaxCurrent: 52.4, FirstRatio: 6.04, LastRatio: 5.51, Longest: 1.77},
			{Phase: model.Phase{Duration: 3, Thrust: 1.6}},
		},
	}
	return p, &a
}

// A row of the phases tells the least voltage, of the pack and of a cell, when that was, and which phase ended the
// flight; of one that never began nothing is known.
func TestPhasesInWords(t *testing.T) {
	p, a := cycled(t)
	table := phaseTable(a)
	for first, want := range map[string][]string{
		"20 s at 1.15 times the weight": {"14.08", "3.52", "4.3", "5.2", "-", "1.15", "1.15", ""},
		"1.5 s at full throttle":        {"12.40", "3.10", "4.7", "52.4", "1.8", "6.04", "5.51", "ends it"},
		"3 s at 1.6 times the weight":   {"-", "-", "-", "-", "-", "-", "-", "never begins"},
	} {
		if diff := cmp.Diff(want, rowOf(t, table, first)[1:]); diff != "" {
			t.Errorf("%s: %s", first, diff)
		}
	}

	notes := phaseNotes(p, a)
	if len(notes) != 3 {
		t.Fatalf("%q", notes)
	}
	if want := "Flown from full, over and over: 20 s at 1.15 times the weight, 1.5 s at full throttle, 3 s at 1.6 times the weight; until a cycle would take a held phase to 3.50 V per cell, or the charge to 20 %;"; !strings.HasPrefix(notes[0], want) {
		t.Errorf("%q does not begin with %q", notes[0], want)
	}
	if want := "On sedge-650 full throttle does not fall below 3.50 V per cell."; notes[1] != want {
		t.Errorf("%q, want %q", notes[1], want)
	}
	a.Cycle.Dipped, a.Cycle.FirstDip = true, 150
	if got, want := phaseNotes(p, a)[1], "On sedge-650 full throttle falls below 3.50 V per cell from 2.5 min on; that does not end the flight, since the voltage comes back. If you land the first time that it happens, the flight is 2.5 min."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	a.Cycle.Phases = a.Cycle.Phases[:1] // nothing at full throttle to speak of
	if notes := phaseNotes(p, a); len(notes) != 1 {
		t.Errorf("%q", notes)
	}

	// What a phase that never began cannot have is null, and so is a thrust at full throttle.
	_, a = cycled(t)
	list := phasesJSON(a)
	if j := list[2]; j.MinVoltageV != nil || j.MinAtS != nil || j.MaxCurrentA != nil || j.FirstRatio != nil || j.LastRatio != nil || j.LongestS != nil || *j.Thrust != 1.6 || j.Seconds != 3 || j.EndsFlight {
		t.Errorf("%+v", j)
	}
	if j := list[1]; *j.LongestS != 1.77 || j.Thrust != nil || !j.Full || !j.EndsFlight || *j.LastRatio != 5.51 {
		t.Errorf("%+v", j)
	}
	if j := list[0]; j.LongestS != nil || *j.Thrust != 1.15 || j.Full || j.EndsFlight || *j.MinAtS != 258 {
		t.Errorf("%+v", j)
	}
	a.Cycle = nil
	if list := phasesJSON(a); list == nil || len(list) != 0 {
		t.Errorf("%+v", list)
	}
}

// standRows are what a stand measures of a known motor with a known propeller, at 15 V, as text of a record.
const standRecords = `
[motor.known]
mass_g = 9
kv = 3800
r_mohm = 152
no_load_a = 0.7
[prop.small]
mass_g = 1.5
diameter_in = 3.5
pitch_in = 2.2
blades = 2
[thrust_test.stand]
motor = "known"
prop = "small"
source = "a stand"
air_kg_m3 = 1.196
rows = [
  { throttle = 0.2, voltage_v = 15.79, current_a = 0.38, thrust_g = 32, rpm = 11790 },
  { throttle = 0.4, voltage_v = 15.73, current_a = 1.62, thrust_g = 113, rpm = 22050 },
  { throttle = 0.6, voltage_v = 15.63, current_a = 4.08, thrust_g = 223, rpm = 31280 },
  { throttle = 0.8, voltage_v = 15.40, current_a = 8.03, thrust_g = 362, rpm = 39320 },
  { throttle = 1.0, voltage_v = 15.11, current_a = 13.53, thrust_g = 506, rpm = 47300 },
]
`

// A thrust test is shown with what its fit leaves open: a speed that was left out, none measured, a no-load current out
// of the fit, a resistance that is far from the data sheet's.
func TestThrustTestsInWords(t *testing.T) {
	const glitch, noSpeed, noLoad, far, unused = "is left out as a glitch", "No rpm was measured", "The motor states no no-load current", "The data sheet states ", "Not used by any build"
	withoutSpeed := standRecords
	for _, rpm := range []string{"11790", "22050", "31280", "39320", "47300"} {
		withoutSpeed = strings.ReplaceAll(withoutSpeed, ", rpm = "+rpm, "")
	}
	for name, c := range map[string]struct {
		records string
		want    []string
	}{
		"whole":                       {standRecords, nil},
		"without speed":               {withoutSpeed, []string{noSpeed}},
		"a speed times two":           {strings.Replace(standRecords, "22050", "44100", 1), []string{glitch}},
		"no no-load current":          {strings.Replace(standRecords, "no_load_a = 0.7", "", 1), []string{noLoad}},
		"a resistance ten times less": {strings.Replace(standRecords, "r_mohm = 152", "r_mohm = 15", 1), []string{far}},
		"thrust of a tenth":           {strings.NewReplacer("thrust_g = 506", "thrust_g = 5", "thrust_g = 362", "thrust_g = 400").Replace(standRecords), []string{unused}},
	} {
		t.Run(name, func(t *testing.T) {
			p, err := showPart(recordsOf(t, c.records), "stand")
			if err != nil {
				t.Fatal(err)
			}
			notes := strings.Join(p.notes, "\n")
			for _, text := range []string{glitch, noSpeed, noLoad, far, unused} {
				want := len(c.want) > 0 && c.want[0] == text
				if strings.Contains(notes, text) != want {
					t.Errorf("says %q: %v\n%s", text, !want, notes)
				}
			}
			if !strings.HasSuffix(notes, standCaution) {
				t.Errorf("no caution: %s", notes)
			}
		})
	}
	p, err := showPart(recordsOf(t, strings.Replace(standRecords, "22050", "44100", 1)), "stand")
	if err != nil {
		t.Fatal(err)
	}
	if notes := strings.Join(p.notes, "\n"); !strings.Contains(notes, "The speed of row 2 is left out as a glitch: 44100 rpm, where its thrust and the other rows give 2") {
		t.Errorf("%s", notes)
	}
	// One row is the worst, and full throttle alone tells errors of thrust and current.
	worst, atFull := 0, 0
	for _, f := range p.facts {
		if f.key == "fit.rows" {
			if strings.HasSuffix(f.text, " (worst)") {
				worst++
			}
			if strings.Contains(f.text, ", thrust ") {
				atFull++
				if !strings.HasPrefix(f.text, "100 %: ") {
					t.Errorf("%s", f.text)
				}
			}
		}
	}
	if worst != 1 || atFull != 1 {
		t.Errorf("%d rows are the worst, %d at full throttle", worst, atFull)
	}
}

// Every place that takes power has words of its own.
func TestPlacesInWords(t *testing.T) {
	places := []model.Place{model.PlaceLift, model.PlaceFrame, model.PlaceInduced, model.PlaceProfile, model.PlaceCopper, model.PlaceNoLoad, model.PlacePartDuty, model.PlaceController, model.PlaceFlown, model.PlaceGear}
	said := map[string]model.Place{}
	for _, p := range places {
		text := placeWords(p)
		if other, ok := said[text]; ok {
			t.Errorf("%s and %s are both %q", p, other, text)
		}
		said[text] = p
	}
	if got := placeWords(model.PlaceGear); got != "board, camera, transmitter, receiver" {
		t.Errorf("gear is %q", got)
	}
}

// A place that takes nothing has no row; one that takes less than nothing has.
func TestLossRows(t *testing.T) {
	w := planOf(t, builds(t)["stint"]).Weigh()
	table := lossTable(&w)
	var sum, share float64
	for _, row := range table.Rows {
		sum, share = sum+*row[1].Value, share+*row[2].Value
		if *row[1].Value == 0 {
			t.Errorf("a row of nothing: %q", row[0].Text)
		}
	}
	if h := w.Hover(); math.Abs(sum-float64(h.Power)) > 1e-6 || math.Abs(share-100) > 1e-6 {
		t.Errorf("losses of %v W, %v %%, of %v W", sum, share, float64(h.Power))
	}
}

// The air is told in a few words, with the packs' temperature where it is stated.
func TestConditionsInWords(t *testing.T) {
	stint := builds(t)["stint"]
	for text, want := range map[string]string{
		stint: "150 m, 12 C; packs at 20 C",
		strings.Replace(stint, "pack_temperature_c = 20", "", 1):                                                  "150 m, 12 C; packs as warm as they were tested",
		strings.Replace(stint, "temperature_c = 12\npack_temperature_c = 20", "pack_temperature_c = -2.4", 1):     "150 m, 14 C; packs at -2 C", // of the standard atmosphere: 15 C less 6.5 C a kilometre
		strings.Replace(stint, "altitude_m    = 150\ntemperature_c = 12\npack_temperature_c = 20", "", 1):         "0 m, 15 C; packs as warm as they were tested",
		strings.Replace(stint, "altitude_m    = 150\ntemperature_c = 12\npack_temperature_c", "temperature_c", 1): "0 m, 20 C; packs as warm as they were tested",
	} {
		if got := conditionsText(planOf(t, text)); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if got, want := conditionsNote(planOf(t, strings.Replace(stint, "altitude_m    = 150\ntemperature_c = 12\npack_temperature_c = 20", "", 1))), "Air of 1.225 kg/m3: 0 m, 15 C; "; !strings.HasPrefix(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

// What thresholds ask for besides a mass is told of every rule that a build names, in one sentence.
func TestClausesOfRules(t *testing.T) {
	stint := planOf(t, builds(t)["stint"])
	named := func(rules ...string) *planner.Plan {
		p, build := *stint, *stint.Build
		p.Build, build.Limit.Rules, build.Limit.Rule = &build, rules, ""
		if len(rules) > 0 {
			build.Limit.Rule = rules[0]
		}
		return &p
	}
	speed := 0
	for _, l := range catalog.Thresholds() {
		if l.Limit == nil {
			continue
		}
		got := clauses(named(l.ID))
		wants := l.Speed != nil || l.Camera != ""
		if wants != (len(got) == 1) {
			t.Errorf("%s: %q", l.ID, got)
			continue
		}
		if l.Speed != nil {
			speed++
			if !strings.Contains(got[0], l.ID+" asks for a greatest speed under 19 m/s as well, and for registration where an impact can transfer more than 80 J") {
				t.Errorf("%s: %q", l.ID, got)
			}
		}
		if l.Camera != "" && !strings.Contains(got[0], l.ID+" with a camera on board: "+l.Camera) {
			t.Errorf("%s: %q", l.ID, got)
		}
	}
	if speed == 0 {
		t.Error("no threshold asks for a speed")
	}
	if got := clauses(named()); got != nil {
		t.Errorf("a mass alone: %q", got)
	}
	// The limit is told with the rule that is the strictest of several, and as the file's own where it names none.
	if got, want := limitNote(named()), "as the build file states it. This compares masses;"; !strings.Contains(got, want) {
		t.Errorf("%q", got)
	}
	if got, want := limitNote(named("us-recreational", "eu-a1-built")), " It is the strictest of us-recreational, eu-a1-built."; !strings.Contains(got, want) {
		t.Errorf("%q", got)
	}
	if got := limitNote(named("eu-a1-built")); strings.Contains(got, "strictest") {
		t.Errorf("%q", got)
	}
	for _, l := range catalog.Thresholds() {
		if l.Limit == nil {
			continue
		}
		got := limitNote(named(l.ID))
		if strings.Contains(got, "not from the official text") != (l.Source != catalog.OfficialText) {
			t.Errorf("%s, known by %s: %q", l.ID, l.Source, got)
		}
	}
}

// A remark is told with its part's id, or with its place in a log.
func TestRemarksInWords(t *testing.T) {
	for _, c := range []struct{ subject, want string }{{"", "is odd"}, {"sedge-650", "sedge-650 is odd"}, {"a.csv:7", "a.csv:7: is odd"}} {
		if got := remarkText(planner.Remark{Subject: c.subject, Text: "is odd"}); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
	if got := joinReasons([]planner.Remark{{Subject: "x", Text: "a"}, {Text: "b"}}); got != "a; b" {
		t.Errorf("%q", got)
	}
	if got := limitedBy(model.LimitedByThrottle); got != "throttle" {
		t.Errorf("%q", got)
	}
	if got := limitedBy("pack"); got != "pack" {
		t.Errorf("%q", got)
	}
}
