package planner_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"allup/catalog"
	"allup/planner"
)

// The texts that are varied here: records of every kind, and a build in which MOTOR, PROP and SCALE stand for
// something. The commands are tried on them as well.
var rangeParts, rangeBuild = rangeText("parts.txt"), rangeText("build.txt")

func rangeText(name string) string {
	text, err := os.ReadFile(filepath.Join("..", "testdata", "range", name))
	if err != nil {
		panic(err)
	}
	return string(text)
}

// rangeScales are what a build's scale may have shown, in place of SCALE.
func rangeScales() []string {
	return []string{"", "[scale]\nall_up_g = 231.4\npack = \"tested\"\ntolerance_g = 0.5", "[scale]\ndry_g = 157.2"}
}

// figure is a number of a file behind its key or in a list. Cells and rotors are counts, which few values pass.
var figure = regexp.MustCompile(`[=,] (-?[0-9][-+.e0-9]*)|\[(-?[0-9][-+.e0-9]*)`)

// strayed is a text with some of its numbers replaced.
func strayed(r *rand.Rand, text string, n int) string {
	for range n {
		at := figure.FindAllStringSubmatchIndex(text, -1)
		m := at[r.IntN(len(at))]
		from, to := m[2], m[3]
		if from < 0 {
			from, to = m[4], m[5]
		}
		was, err := strconv.ParseFloat(text[from:to], 64)
		if err != nil {
			panic(err)
		}
		text = text[:from] + strayedNumber(r, was) + text[to:]
	}
	return text
}

func strayedNumber(r *rand.Rand, was float64) string {
	fixed := []string{"0", "1e-9", "5e-324", "1e-300", "1e-3", "1", "60000", "1e9", "1.7e308", "-1", "-0.0", "nan", "inf"}
	switch r.IntN(3) {
	case 0:
		return fixed[r.IntN(len(fixed))]
	case 1: // some powers of ten away
		if math.Abs(was) > 1e300 {
			was = 1
		}
		return fmt.Sprintf("%e", was*math.Pow(10, 8*r.Float64()-4))
	}
	return fmt.Sprintf("%e", min(was, 1e300)*(0.3+1.4*r.Float64()))
}

// Every number of a build and of its records may be anything: the answer is figures within their ranges, or
// errors of which each names the field. ALLUP_LONG=1 runs 100,000 cases.
func TestNoFigureLeavesItsRange(t *testing.T) {
	for i, prop := range []string{"p", "s", "plabel"} {
		if _, err := rankTexts(rangeParts, strings.NewReplacer("MOTOR", "m", "PROP", prop, "SCALE", rangeScales()[i]).Replace(rangeBuild)); err != nil {
			t.Fatalf("the good build is refused: %v", err)
		}
	}
	cases := 2000
	if os.Getenv("ALLUP_LONG") != "" {
		cases = 100_000
	}
	if testing.Short() {
		cases = 300
	}
	r := rand.New(rand.NewPCG(8, 2026))
	answered := 0
	var slowest slowestCase
	for i := range cases {
		parts, build := rangeParts, rangeBuild
		build = strings.Replace(build, "MOTOR", []string{"m", "mlabel"}[r.IntN(2)], 1)
		build = strings.Replace(build, "PROP", []string{"p", "s", "plabel"}[r.IntN(3)], 1)
		build = strings.Replace(build, "SCALE", rangeScales()[r.IntN(3)], 1)
		if r.IntN(2) == 0 {
			build, _, _ = strings.Cut(build, "phases")
		}
		if r.IntN(2) == 0 {
			parts, _, _ = strings.Cut(parts, "[thrust_test")
		}
		if n := 1 + r.IntN(4); r.IntN(2) == 0 {
			parts = strayed(r, parts, n)
		} else {
			build = strayed(r, build, n)
		}
		begun := time.Now()
		ranking, err := rankTexts(parts, build)
		slowest.note(t, i, time.Since(begun), parts+build)
		if err != nil {
			var faults catalog.InputErrors
			if !errors.As(err, &faults) {
				t.Errorf("case %d: an error without a field: %v\n%s", i, err, changed(parts+build))
				continue
			}
			for _, f := range faults {
				if f.Field == "" {
					t.Errorf("case %d: an error without a field: %v", i, f)
				}
			}
			continue
		}
		answered++
		if what := outOfRange(ranking); what != "" {
			t.Errorf("case %d: %s\n%s", i, what, changed(parts+build))
		}
	}
	if answered < cases/7 {
		t.Errorf("%d cases have an answer: too few to say anything", answered)
	}
	t.Logf("%d of %d cases have an answer; %s", answered, cases, slowest)
}

// slowestCase is the case that took longest. Each takes some hundredths of a second: one that takes thousands of times
// that hangs, on any machine.
type slowestCase struct {
	number int
	took   time.Duration
}

const caseHangs = time.Minute

func (s *slowestCase) note(t *testing.T, number int, took time.Duration, text string) {
	t.Helper()
	if took > s.took {
		*s = slowestCase{number, took}
	}
	if took > caseHangs {
		t.Errorf("case %d took %v\n%s", number, took, changed(text))
	}
}

func (s slowestCase) String() string {
	return fmt.Sprintf("the slowest, case %d, took %v", s.number, s.took)
}

func rankTexts(parts, build string) (*planner.Ranking, error) {
	file := catalog.File{Name: "parts.toml", Path: "parts.toml", FS: fstest.MapFS{"parts.toml": {Data: []byte(parts)}}}
	cat, _, err := catalog.Load(catalog.Layer{Name: "parts", Files: []catalog.File{file}})
	if err != nil {
		return nil, err
	}
	b, _, err := catalog.ReadBuild("build.toml", strings.NewReader(build), cat)
	if err != nil {
		return nil, err
	}
	p, err := planner.Resolve(b)
	if err != nil {
		return nil, err
	}
	packs, err := planner.NewPackSet(cat)
	if err != nil {
		return nil, err
	}
	return p.Rank(packs, planner.RankOptions{}), nil
}

// changed are the lines of a text that are not those of the good one.
func changed(text string) string {
	var lines []string
	for line := range strings.Lines(text) {
		if !strings.Contains(rangeParts+rangeBuild, line) {
			lines = append(lines, "\t"+line)
		}
	}
	return strings.Join(lines, "")
}

// outOfRange names the first figure of a ranking that is none, or that nothing can have.
func outOfRange(r *planner.Ranking) string {
	w := r.Plan.Weigh()
	if w.OverChance < 0 || w.OverChance > 1 || !(w.Mass > 0) || w.Expanded > w.Mass {
		return fmt.Sprintf("weighed as %v g +- %v g, chance %v", w.Mass.Grams(), w.Expanded.Grams(), w.OverChance)
	}
	for _, list := range [][]planner.Assessment{r.Ranked, r.Excluded} {
		for i := range list {
			a := &list[i]
			if path := notFinite(reflect.ValueOf(*a), "", 0); path != "" {
				return fmt.Sprintf("%s: %s", a.Pack.ID, path)
			}
			if c := a.ChargeLeft(); c < 0 || c > 1 {
				return fmt.Sprintf("%s: charge left %v", a.Pack.ID, c)
			}
			if a.Duration() < 0 || a.Duration() > 24*3600 {
				return fmt.Sprintf("%s: flies %v s", a.Pack.ID, float64(a.Duration()))
			}
			if b := a.Band; b != nil {
				for name, x := range map[string]planner.Interval{"mass": b.Mass, "time": b.Time, "current": b.Current, "punch": b.Punch} {
					if x.Low < 0 || x.Low > x.High {
						return fmt.Sprintf("%s: band of %s %v", a.Pack.ID, name, x)
					}
				}
			}
		}
	}
	return ""
}

// notFinite is the path to the first number that JSON cannot write, and what it is.
func notFinite(v reflect.Value, path string, depth int) string {
	if depth > 12 {
		return ""
	}
	switch v.Kind() {
	case reflect.Float64:
		if f := v.Float(); math.IsNaN(f) || math.IsInf(f, 0) {
			return fmt.Sprintf("%s is %v", path, f)
		}
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			return notFinite(v.Elem(), path, depth+1)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() {
				if p := notFinite(v.Field(i), path+"."+f.Name, depth+1); p != "" {
					return p
				}
			}
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			if p := notFinite(v.Index(i), fmt.Sprintf("%s[%d]", path, i), depth+1); p != "" {
				return p
			}
		}
	}
	return ""
}
