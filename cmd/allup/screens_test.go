package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/clipperhouse/displaywidth"
)

// TestScreens compares what people see with golden files, on terminals of three widths
// and through a pipe.
func TestScreens(t *testing.T) {
	t.Chdir(repository(t))
	screens := map[string][]string{
		"rank":       {"rank", "testdata/builds/stint.toml"},
		"rank-over":  {"rank", "testdata/builds/plover.toml"},
		"weigh":      {"weigh", "testdata/builds/stint.toml"},
		"weigh-near": {"weigh", "testdata/builds/dunlin.toml"},
		"all-limits": {"weigh", "testdata/builds/dunlin.toml", "--all-limits"},
		"weigh-over": {"weigh", "testdata/builds/plover.toml"},
		"swap":       {"swap", "testdata/builds/stint.toml", "pack=bracken-720", "with=camera:12.5g"},
		"swap-yes":   {"swap", "testdata/builds/stint.toml", "pack=sedge-550"},
		"swap-bay":   {"swap", "testdata/builds/stint.toml", "pack=yarrow-520-flat", "prop=reed-40x25-2"},
		"parts":      {"parts", "--kind", "motor"},
		"part":       {"parts", "sedge-650"},
		"limits":     {"limits"},
		"phases":     {"rank", "testdata/builds/curlew.toml", "--pack-temperature", "8C", "--altitude", "1200m"},
		"weigh-test": {"weigh", "testdata/builds/curlew.toml"},
		"test":       {"parts", "wick-reed"},
		"swap-test":  {"swap", "testdata/builds/curlew.toml", "pack=sedge-550"},
		"swap-size":  {"swap", "testdata/builds/curlew.toml", "prop=fen-35x28-2"},
		"reduce":     {"reduce", "testdata/bench/bench.toml"},
		"field":      {"field"},
		"size":       {"size", "testdata/builds/stint.toml"},
		"search":     {"search", "testdata/builds/stint.toml", "--any", "motor,prop,board", "--top", "5"},
		"search-buy": {"search", "testdata/builds/plover.toml", "--any", "frame,prop", "--top", "3"},
		"suggest":    {"swap", "testdata/builds/plover.toml", "--suggest"},
		"size-no":    {"size", "testdata/builds/curlew.toml", "--punch", "9"},
	}
	widths := []int{80, 120, 200, 0}
	if testing.Short() {
		widths = widths[:1]
	}
	for name, args := range screens {
		for _, width := range widths {
			t.Run(fmt.Sprintf("%s/%d", name, width), func(t *testing.T) {
				got := tell(t, width, "", args...)
				for line := range strings.Lines(got.Out) {
					line = strings.TrimRight(line, "\n")
					if n := displaywidth.String(line); width > 0 && n > width {
						t.Errorf("line of %d characters on a terminal of %d:\n%s", n, width, line)
					}
					if strings.TrimRight(line, " ") != line {
						t.Errorf("line ends in blanks: %q", line)
					}
				}
				size := "pipe"
				if width > 0 {
					size = fmt.Sprint(width)
				}
				golden(t, filepath.Join("testdata", "screens", name+"-"+size+".txt"), fmt.Sprintf("exit %d\n%s%s", got.Code, got.Err, got.Out))
			})
		}
	}
}

// TestWideNames: a line with wide or combining characters takes no more of the terminal than it has, and the
// columns behind them stay where their headings are.
func TestWideNames(t *testing.T) {
	build, err := os.ReadFile(filepath.Join(repository(t), "testdata", "builds", "stint.toml"))
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Replace(string(build), "name   = \"Stint 3.5\"", "name = \""+strings.Repeat("三寸半の機体", 12)+"\"", 1)
	text += "\n[extra.wide]\nname = \"撮影機材一式二組\"\nmass_g = 1\n[extra.accents]\nname = \"" + strings.Repeat("e\u0301", 12) + "\"\nmass_g = 1\n"
	for _, width := range []int{60, 70, 80, 85, 90, 120, 0} {
		got := tell(t, width, text, "weigh", "-")
		if got.Code != exitYes || !strings.Contains(got.Out, "三寸半の機体") {
			t.Fatalf("exit %d: %s%s", got.Code, got.Err, got.Out)
		}
		ends := map[int]bool{}
		for line := range strings.Lines(got.Out) {
			line = strings.TrimRight(line, "\n")
			if n := displaywidth.String(line); width > 0 && n > width {
				t.Errorf("line of %d columns on a terminal of %d:\n%s", n, width, line)
			}
			if rest, ok := strings.CutSuffix(strings.TrimRight(line, " "), "  stated"); ok {
				ends[displaywidth.String(rest)] = true
			} else if rest, ok := strings.CutSuffix(line, "  catalogue"); ok {
				ends[displaywidth.String(rest)] = true
			} else if rest, ok := strings.CutSuffix(line, "  by"); ok {
				ends[displaywidth.String(rest)] = true
			}
		}
		if len(ends) > 1 {
			t.Errorf("on a terminal of %d a column ends at %v:\n%s", width, ends, got.Out)
		}
	}
}

// TestForms holds that every command answers in all forms: one JSON value, CSV with equal
// columns, Markdown.
func TestForms(t *testing.T) {
	t.Chdir(repository(t))
	for name, args := range map[string][]string{
		"rank":   {"rank", "testdata/builds/stint.toml"},
		"weigh":  {"weigh", "testdata/builds/stint.toml"},
		"swap":   {"swap", "testdata/builds/stint.toml", "without=eyrie-cam"},
		"parts":  {"parts"},
		"part":   {"parts", "sedge-650"},
		"limits": {"limits"},
		"field":  {"field"},
		"size":   {"size", "testdata/builds/stint.toml"},
		"reduce": {"reduce", benchOfOne(t)},
		"search": {"search", "testdata/builds/stint.toml", "--any", "motor", "--top", "2"},
		"better": {"swap", "testdata/builds/stint.toml", "--suggest"},
	} {
		for _, form := range formats() {
			t.Run(name+"/"+form, func(t *testing.T) {
				got := tell(t, 0, "", append(args, "--format", form)...)
				if got.Code != exitYes || got.Out == "" || got.Err != "" {
					t.Fatalf("exit %d, standard error %q, %d bytes of output", got.Code, got.Err, len(got.Out))
				}
				switch form {
				case "json":
					var v map[string]any
					if err := json.Unmarshal([]byte(got.Out), &v); err != nil {
						t.Error(err)
					}
				case "csv":
					checkCSV(t, got.Out)
				case "markdown":
					if !strings.HasPrefix(got.Out, "**") || !strings.Contains(got.Out, "|") {
						t.Errorf("no verdict or no table:\n%s", got.Out)
					}
				}
			})
		}
	}
}

// benchOfOne is a bench file, outside the project, of a pack whose logs are good.
func benchOfOne(t *testing.T) string {
	t.Helper()
	root, err := os.Getwd() // TestForms is there
	if err != nil {
		t.Fatal(err)
	}
	logs := filepath.ToSlash(filepath.Join(root, "testdata", "bench", "logs"))
	text := fmt.Sprintf("date = 2026-05-31\n[pack.sedge-650]\nname = \"Sedge\"\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 650\nmass_g = 74.2\ndischarge = %q\nburst = %q\n",
		logs+"/sedge-650-discharge.csv", logs+"/sedge-650-burst.csv")
	file := filepath.Join(t.TempDir(), "bench.toml")
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

func checkCSV(t *testing.T, text string) {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) < 2 {
		t.Errorf("%d rows", len(rows))
	}
	for _, head := range rows[0] {
		if head == "" || strings.ContainsAny(head, " %") {
			t.Errorf("heading %q is not for programs", head)
		}
	}
}

// A small drawing stands in the answer on a terminal that is wide enough, in ASCII unless the terminal has UTF-8, and
// nowhere else.
func TestPictures(t *testing.T) {
	t.Chdir(repository(t))
	for name, tt := range map[string]struct {
		args        []string
		sign, ascii string
	}{
		"weigh":  {[]string{"weigh", "testdata/builds/stint.toml"}, "█", "###"},
		"rank":   {[]string{"rank", "testdata/builds/stint.toml"}, "●", "sedge-650 (today's)"},
		"size":   {[]string{"size", "testdata/builds/stint.toml"}, "┊", "what the limit leaves"},
		"reduce": {[]string{"reduce", "testdata/bench/bench.toml"}, "⣀", "marl-550 430 mAh"},
	} {
		t.Run(name, func(t *testing.T) {
			show := func(width int, utf8, terminal bool, more ...string) string {
				var out bytes.Buffer
				s := &streams{
					in: &bytes.Buffer{}, out: &out, err: io.Discard, outTerminal: terminal, width: width, utf8: utf8,
					configDir: func() (string, error) { return t.TempDir(), nil },
				}
				run(s, append(tt.args, more...))
				return out.String()
			}
			wide := show(120, true, true)
			// The picture stands between the first lines and the tables.
			golden(t, filepath.Join("testdata", "pictures", name+".txt"), strings.Split(wide, "\n\n")[1]+"\n")
			for what, got := range map[string]string{"wide, with UTF-8": wide, "wide, without UTF-8": show(120, false, true)} {
				want := map[string]string{"wide, with UTF-8": tt.sign, "wide, without UTF-8": tt.ascii}[what]
				if !strings.Contains(got, want) {
					t.Errorf("%s: no %q in\n%s", what, want, got)
				}
			}
			if name == "reduce" {
				return // it takes its time, and the rest is the same for all
			}
			for what, got := range map[string]string{
				"narrow": show(99, true, true), "a pipe": show(120, true, false), "Markdown": show(120, true, true, "--format", "markdown"), "JSON": show(120, true, true, "--format", "json"),
			} {
				if strings.Contains(got, tt.sign) || strings.Contains(got, tt.ascii) {
					t.Errorf("%s: a drawing in\n%s", what, got)
				}
			}
			plain := show(99, false, true)
			if strings.Contains(plain, tt.ascii) {
				t.Errorf("narrow and without UTF-8: a drawing in\n%s", plain)
			}
		})
	}
}

func TestUTF8Locale(t *testing.T) {
	for _, tt := range []struct {
		settings []string
		want     bool
	}{
		{[]string{"", "", "en_GB.UTF-8"}, true},
		{[]string{"", "C.utf8", "C"}, true},
		{[]string{"C", "", "en_GB.UTF-8"}, false},
		{[]string{"", "", "de_DE.ISO-8859-1"}, false},
		{[]string{"", "", ""}, false},
	} {
		if got := utf8Locale(tt.settings...); got != tt.want {
			t.Errorf("utf8Locale(%q) = %v", tt.settings, got)
		}
	}
}
