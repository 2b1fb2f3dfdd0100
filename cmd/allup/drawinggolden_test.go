package main

import (
	"crypto/sha256"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// Every drawing of the demo pages, and of a swap, is as it was, to a tenth of a pixel: by a digest of its text.
// Open a drawing whose digest changed before the new one is kept.
func TestDrawingsAreAsTheyWere(t *testing.T) {
	t.Chdir(repository(t))
	svg := regexp.MustCompile(`(?s)<svg.*?</svg>`)
	var out strings.Builder
	for _, args := range [][]string{
		{"testdata/builds/stint.toml"}, {"testdata/builds/curlew.toml"}, {"--bench", "testdata/bench/bench.toml"}, {"--field"},
	} {
		got := tell(t, 0, "", append([]string{"report", "--quiet"}, args...)...)
		if got.Code != exitYes && got.Code != exitNo { // the demo bench has a log that is refused
			t.Fatalf("report %q: exit %d, %s", args, got.Code, got.Err)
		}
		digest(&out, t, "report "+strings.Join(args, " "), svg.FindAllString(got.Out, -1))
	}
	folder := t.TempDir()
	swap := []string{"swap", "testdata/builds/stint.toml", "pack=sedge-550", "prop=fen-35x28-2"}
	if got := tell(t, 0, "", append(swap, "--quiet", "--drawings", folder)...); got.Code != exitYes && got.Code != exitNo {
		t.Fatalf("%q: exit %d, %s", swap, got.Code, got.Err)
	}
	files, err := filepath.Glob(filepath.Join(folder, "*.svg"))
	if err != nil {
		t.Fatal(err)
	}
	var drawings []string
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		drawings = append(drawings, svg.FindString(string(text)))
	}
	digest(&out, t, strings.Join(swap, " "), drawings)
	golden(t, filepath.Join("testdata", "pictures", "digests.txt"), out.String())
}

// digest writes a line for each drawing: its digest and what it says of itself.
func digest(out *strings.Builder, t *testing.T, command string, drawings []string) {
	t.Helper()
	if len(drawings) == 0 {
		t.Fatalf("%s draws nothing", command)
	}
	number := regexp.MustCompile(`-?\d+\.\d+`)
	label := regexp.MustCompile(`aria-label="([^"]*)"|<title[^>]*>([^<]*)</title>`)
	fmt.Fprintln(out, command)
	for _, d := range drawings {
		name := "?"
		if m := label.FindStringSubmatch(d); m != nil {
			name = m[1] + m[2]
		}
		d = number.ReplaceAllStringFunc(d, func(text string) string {
			v, err := strconv.ParseFloat(text, 64)
			if err != nil {
				t.Fatal(err)
			}
			return strconv.FormatFloat(math.Round(10*v)/10, 'f', 1, 64)
		})
		fmt.Fprintf(out, "  %.8x  %s\n", sha256.Sum256([]byte(d)), name)
	}
}
