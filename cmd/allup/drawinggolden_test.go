package main

import (
	"crypto/sha256"
	"fmt"
	"math"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// Every drawing of the demo pages is as it was, to a tenth of a pixel: by a digest of its text. Open a drawing
// whose digest changed before the new one is kept.
func TestDrawingsAreAsTheyWere(t *testing.T) {
	t.Chdir(repository(t))
	svg := regexp.MustCompile(`(?s)<svg.*?</svg>`)
	number := regexp.MustCompile(`-?\d+\.\d+`)
	label := regexp.MustCompile(`aria-label="([^"]*)"|<title[^>]*>([^<]*)</title>`)
	var out strings.Builder
	for _, args := range [][]string{
		{"testdata/builds/stint.toml"}, {"testdata/builds/curlew.toml"}, {"--bench", "testdata/bench/bench.toml"}, {"--field"},
	} {
		got := tell(t, 0, "", append([]string{"report", "--quiet"}, args...)...)
		if got.Code != exitYes && got.Code != exitNo { // the demo bench has a log that is refused
			t.Fatalf("report %q: exit %d, %s", args, got.Code, got.Err)
		}
		drawings := svg.FindAllString(got.Out, -1)
		if len(drawings) == 0 {
			t.Fatalf("report %q draws nothing", args)
		}
		fmt.Fprintf(&out, "report %s\n", strings.Join(args, " "))
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
			fmt.Fprintf(&out, "  %.8x  %s\n", sha256.Sum256([]byte(d)), name)
		}
	}
	golden(t, filepath.Join("testdata", "pictures", "digests.txt"), out.String())
}
