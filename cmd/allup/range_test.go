package main

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
)

// Every number of a build and of its records may be anything: each command answers in JSON that can be read, or says no
// or what is wrong; nothing fails, and no figure is none. ALLUP_LONG=1 runs ten times as many cases.
func TestAnyNumberGivesJSON(t *testing.T) {
	text := func(name string) string {
		data, err := os.ReadFile(filepath.Join(repository(t), "testdata", "range", name))
		if err != nil {
			t.Fatal(err)
		}
		return string(data)
	}
	goodParts, goodBuild := text("parts.txt"), text("build.txt")
	records := filepath.Join(t.TempDir(), "parts.toml")
	commands := [][]string{
		{"weigh", "-"},
		{"weigh", "-", "--all-limits"},
		{"rank", "-"},
		{"rank", "-", "--quick"},
		{"swap", "-", "pack=label"},
		{"swap", "-", "with=camera:4g"},
		{"size", "-"},
		{"rank", "-", "--pack-temperature", "-10C", "--altitude", "3000m"},
	}
	cases := 200
	if os.Getenv("ALLUP_LONG") != "" {
		cases = 2000
	}
	if testing.Short() {
		cases = 40
	}
	none := regexp.MustCompile(`(?i)\b(nan|[+-]?inf)\b`)
	r := rand.New(rand.NewPCG(10, 2026))
	codes := map[exitCode]int{}
	var slowest time.Duration
	for i := range cases {
		parts, build := goodParts, strings.NewReplacer(
			"MOTOR", []string{"m", "mlabel"}[r.IntN(2)], "PROP", []string{"p", "s", "plabel"}[r.IntN(3)],
			"SCALE", []string{"", "[scale]\nall_up_g = 231.4\ntolerance_g = 0.5", "[scale]\ndry_g = 157.2"}[r.IntN(3)],
		).Replace(goodBuild)
		if r.IntN(2) == 0 {
			build, _, _ = strings.Cut(build, "phases")
		}
		if r.IntN(2) == 0 {
			parts, _, _ = strings.Cut(parts, "[thrust_test")
		}
		changed := ""
		if i > 0 {
			parts, build, changed = strayNumbers(r, parts, build, 1+r.IntN(3))
		}
		if err := os.WriteFile(records, []byte(parts), 0o644); err != nil {
			t.Fatal(err)
		}
		for _, args := range commands {
			begun := time.Now()
			got := tell(t, 0, build, append(args, "--parts", records, "--no-builtin", "--format", "json")...)
			took := time.Since(begun)
			slowest = max(slowest, took)
			codes[got.Code]++
			switch {
			case took > time.Minute: // thousands of times what one takes
				t.Errorf("case %d, %v took %v%s", i, args, took, changed)
			case got.Code == exitFail:
				t.Errorf("case %d, %v fails: %s%s", i, args, got.Err, changed)
			case got.Code == exitInput:
				if got.Out != "" || got.Err == "" {
					t.Errorf("case %d, %v is refused with %q on standard output, and %q%s", i, args, got.Out, got.Err, changed)
				}
			case !json.Valid([]byte(got.Out)):
				t.Errorf("case %d, %v says what is no JSON: %.300s%s", i, args, got.Out, changed)
			case none.MatchString(got.Out):
				t.Errorf("case %d, %v says %q%s", i, args, none.FindString(got.Out), changed)
			}
			if i == 0 && got.Code != exitYes && got.Code != exitNo {
				t.Fatalf("%v: the good build gives %d, %s", args, got.Code, got.Err)
			}
		}
	}
	t.Logf("exit codes %v; the slowest took %v", codes, slowest)
	if answered := codes[exitYes] + codes[exitNo]; answered < cases*len(commands)/7 {
		t.Errorf("%d of %d have an answer: too few to say anything", answered, cases*len(commands))
	}
}

// strayNumbers replaces some numbers of two texts, and says in which lines.
func strayNumbers(r *rand.Rand, parts, build string, n int) (newParts, newBuild, changed string) {
	figure := regexp.MustCompile(`(?:[=,] |\[)(-?[0-9][-+.e0-9]*)`)
	text := &parts
	if r.IntN(2) == 0 {
		text = &build
	}
	fixed := []string{"0", "1e-9", "5e-324", "1e-3", "1", "60000", "1e9", "1.7e308", "-1", "-0.0", "nan", "inf"}
	for range n {
		all := figure.FindAllStringSubmatchIndex(*text, -1)
		m := all[r.IntN(len(all))]
		was, err := strconv.ParseFloat((*text)[m[2]:m[3]], 64)
		if err != nil || math.Abs(was) > 1e300 {
			was = 1
		}
		number := fixed[r.IntN(len(fixed))]
		switch r.IntN(3) {
		case 0:
			number = fmt.Sprintf("%e", was*math.Pow(10, 4*r.Float64()-2))
		case 1:
			number = fmt.Sprintf("%e", was*(0.3+1.4*r.Float64()))
		}
		*text = (*text)[:m[2]] + number + (*text)[m[3]:]
		start := strings.LastIndexByte((*text)[:m[2]], '\n') + 1
		line, _, _ := strings.Cut((*text)[start:], "\n")
		changed += "\n\t" + line
	}
	return parts, build, changed
}
