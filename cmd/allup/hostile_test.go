package main

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"fmt"
	htmltext "html"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"allup/model/words"
)

// hostile are texts that would steer whatever they are written into, were they not taken as data.
func hostile() []string {
	return []string{
		`=HYPERLINK("http://elsewhere.example","x")`,
		`../../../etc/out`,
		strings.Join([]string{
			`</script><script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, `' onfocus='alert(1)`, `]]></svg><svg onload=alert(1)>`,
			`| a | b | **bold** [x](http://elsewhere.example)`, "`code`", `..\..\out`, `{{.Title}} ${HOME} $(id)`,
		}, " "),
	}
}

// hostileFiles are a build and a bench whose every name and note is a hostile text.
func hostileFiles(t *testing.T, text string) (build, records, bench string) {
	t.Helper()
	dir := t.TempDir()
	write := func(name, format string, args ...any) string {
		file := filepath.Join(dir, name)
		if err := os.WriteFile(file, fmt.Appendf(nil, format, args...), 0o644); err != nil {
			t.Fatal(err)
		}
		return file
	}
	q := fmt.Sprintf("%q", text)
	records = write("records.toml", `[pack.mine-650]
name = %[1]s
note = %[1]s
url = %[1]s
chemistry = "lipo"
cells = 4
rated_mah = 650
mass_g = 74.2
plug = "xt30"
price = 20
currency = "EUR"
[pack.mine-650.tested]
discharge_power_w = 144.3
discharge_end_v_per_cell = 3.1
capacity_mah = 637
energy_wh = 9.46
mid_voltage_v = 14.69
burst_power_w = 633
burst_current_a = 47.9
burst_end_v_per_cell = 3.3
source = %[1]s
[frame.mine]
name = %[1]s
note = %[1]s
rotors = 4
mass_g = 31.9
`, q)
	build = write("build.toml", `# %[2]s
name = %[1]s
rotors = 4
[limit]
mass_g = 250
[slots]
frame = "mine"
motor = "wick-1404-3800"
prop = "fen-35x25-3"
board = "loam-20"
pack = "mine-650"
[extra.odd]
name = %[1]s
mass_g = 1
`, q, strings.ReplaceAll(text, "\n", " "))
	logs := filepath.ToSlash(filepath.Join(repository(t), "testdata", "bench", "logs"))
	bench = write("bench.toml", "[pack.mine-650]\nname = %s\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 650\nmass_g = 74.2\ndischarge = %q\nburst = %q\n",
		q, logs+"/sedge-650-discharge.csv", logs+"/sedge-650-burst.csv")
	return build, records, bench
}

// Names and notes from files are data in every form: pages and drawings have the elements that they have with plain
// names, CSV its columns, Markdown its cells, and no file leaves the folder it was meant for.
func TestHostileNames(t *testing.T) {
	type answers struct {
		elements map[string]int // of the page
		columns  int
		bars     int // that part the cells of Markdown's first row
		files    int
	}
	of := func(text string) answers {
		build, records, bench := hostileFiles(t, text)
		var a answers
		outer := t.TempDir()
		folder := filepath.Join(outer, "in", "pictures")
		page := tell(t, 0, "", "report", build, "--parts", records, "--demo", "--quiet", "--drawings", folder)
		if page.Code != exitYes {
			t.Fatalf("%q: exit %d, %s", text, page.Code, page.Err)
		}
		a.elements = elements(page.Out)
		if got := tell(t, 0, "", "reduce", bench, "--quiet", "--drawings", filepath.Join(outer, "in", "bench"), "--traces", filepath.Join(outer, "in", "traces")); got.Code != exitYes {
			t.Fatalf("%q: exit %d, %s", text, got.Code, got.Err)
		}
		if got := tell(t, 0, "", "report", "--field", "--parts", records, "--quiet"); got.Code != exitYes {
			t.Fatalf("%q: exit %d, %s", text, got.Code, got.Err)
		} else {
			for e, n := range elements(got.Out) {
				a.elements["field "+e] = n
			}
		}
		name := regexp.MustCompile(`^[a-z0-9][a-z0-9._-]*\.(svg|png|csv)$`)
		if err := filepath.Walk(outer, func(path string, info os.FileInfo, err error) error {
			if err != nil || info.IsDir() {
				return err
			}
			a.files++
			if !name.MatchString(info.Name()) || !strings.HasPrefix(path, filepath.Join(outer, "in")) {
				t.Errorf("%q: a file %s", text, path)
			}
			if strings.HasSuffix(path, ".svg") {
				data, err := os.ReadFile(path)
				if err != nil {
					return err
				}
				drawnOnly(t, path, data)
			}
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(strings.NewReader(tell(t, 0, "", "rank", build, "--parts", records, "--format", "csv", "--quiet").Out)).ReadAll()
		if err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		for _, cell := range rows[1] {
			if cell != "" && strings.ContainsRune("=+@", rune(cell[0])) {
				t.Errorf("%q: a spreadsheet would run the cell %q", text, cell)
			}
		}
		a.columns = len(rows[1])
		for line := range strings.Lines(tell(t, 0, "", "rank", build, "--parts", records, "--format", "markdown", "--quiet").Out) {
			if strings.Contains(line, "mine-650") && strings.HasPrefix(line, "|") {
				a.bars = strings.Count(strings.ReplaceAll(line, `\|`, ""), "|")
				break
			}
		}
		return a
	}
	plain := of("plain")
	if plain.bars == 0 || plain.files < 20 || plain.elements["script"] != 1 || plain.elements["svg"] == 0 {
		t.Fatalf("plain names give %+v", plain)
	}
	for i, text := range hostile() {
		if testing.Short() && i%4 != 0 {
			continue
		}
		got := of(text)
		for e, n := range got.elements {
			if want := plain.elements[e]; n != want && !slices.Contains([]string{"span", "text", "g", "path"}, strings.TrimPrefix(e, "field ")) { // words of a verdict, and labels with their lines
				t.Errorf("%q makes %d of <%s>, a plain name %d", text, n, e, want)
			}
		}
		if got.columns != plain.columns || got.bars != plain.bars || got.files != plain.files {
			t.Errorf("%q gives %d columns, %d bars and %d files, a plain name %d, %d and %d", text, got.columns, got.bars, got.files, plain.columns, plain.bars, plain.files)
		}
	}
}

// The page shows the command that made it as plain words, whatever they were, and stays the page that it is.
func TestHostileCommandLine(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("no such names of files here")
	}
	source, err := os.ReadFile(filepath.Join(repository(t), "testdata", "builds", "stint.toml"))
	if err != nil {
		t.Fatal(err)
	}
	// The words stand in for a build's name, a file of records given forty times, and a folder of drawings.
	page := func(word string) (html, command string) {
		dir := t.TempDir()
		build, parts := filepath.Join(dir, word+".toml"), filepath.Join(dir, word+"-parts.toml")
		for name, text := range map[string][]byte{build: source, parts: []byte("[gear.x]\nmass_g = 1\n")} {
			if err := os.WriteFile(name, text, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		args := []string{"report", build, "--quiet", "--drawings", filepath.Join(dir, word)}
		for range 40 {
			args = append(args, "--parts", parts)
		}
		got := tell(t, 0, "", args...)
		if got.Code != exitYes {
			t.Fatalf("%q: exit %d, %s", word, got.Code, got.Err)
		}
		_, after, _ := strings.Cut(got.Out, "<p>Command: ")
		command, _, _ = strings.Cut(after, "</p>")
		return got.Out, strings.ReplaceAll(htmltext.UnescapeString(command), dir, "")
	}
	plain, command := page("plain")
	if want := "allup report /plain.toml --drawings /plain" + strings.Repeat(" --parts /plain-parts.toml", 40) + " --quiet"; command != want {
		t.Fatalf("the page says %q, want %q", command, want)
	}
	if fault := unbalanced(plain); fault != "" {
		t.Fatalf("a page with plain names: %s", fault)
	}
	for _, word := range []string{
		"\x1b[2J\x1b]0;x\a", "\u202egnp\u2066\u200b", "'\"`$(id)", "a\nb\r", "<script>alert(1)<script>", "<!-- <svg onload=x> & &lt;", strings.Repeat("<p a='>\"\x1b", 22),
	} {
		html, command := page(word)
		if strings.ContainsFunc(html, func(r rune) bool { return r != '\n' && r != '\t' && words.Steers(r) }) {
			t.Errorf("%q: the page has characters that steer", word)
		}
		if fault := unbalanced(html); fault != "" {
			t.Errorf("%q: %s", word, fault)
		}
		if diff := cmp.Diff(elements(plain), elements(html)); diff != "" {
			t.Errorf("%q: elements (-plain +this):\n%s", word, diff)
		}
		parts := shellWord("/" + word + "-parts.toml")
		if strings.Count(command, " --parts ") != 40 || !strings.Contains(command, strings.TrimLeft(parts, "$'")) || strings.Contains(word, "<p") && len(command) < 10_000 {
			t.Errorf("%q: the page says %q", word, command)
		}
	}
}

// unbalanced says which element of a page is not closed, or closed where it was not opened.
func unbalanced(html string) string {
	html = regexp.MustCompile(`(?s)<(script|style)([^>]*)>.*?</(script|style)>`).ReplaceAllString(strings.TrimPrefix(html, "<!DOCTYPE html>"), "")
	tag := regexp.MustCompile(`<(/?)([a-zA-Z][a-zA-Z0-9]*)(?:[^<>"']|"[^"]*"|'[^']*')*?(/?)>|<`)
	var open []string
	for _, m := range tag.FindAllStringSubmatch(html, -1) {
		switch name := m[2]; {
		case m[0] == "<":
			return "a < that begins no element"
		case m[3] == "/", slices.Contains([]string{"meta", "link", "br", "img", "input", "hr", "col"}, name):
		case m[1] == "":
			open = append(open, name)
		case len(open) == 0 || open[len(open)-1] != name:
			return fmt.Sprintf("</%s> in %v", name, open)
		default:
			open = open[:len(open)-1]
		}
	}
	if len(open) > 0 {
		return fmt.Sprintf("%v is not closed", open)
	}
	return ""
}

// elements counts what a page is made of.
func elements(html string) map[string]int {
	counts := map[string]int{}
	for _, m := range regexp.MustCompile(`<([a-zA-Z]+)`).FindAllStringSubmatch(html, -1) {
		counts[m[1]]++
	}
	for _, m := range regexp.MustCompile(`<[^<>]*\s(on[a-z]+)=`).FindAllStringSubmatch(html, -1) {
		counts[m[1]]++
	}
	return counts
}

// drawnOnly holds that an SVG is well-formed and made of what drawings are made of.
func drawnOnly(t *testing.T, name string, data []byte) {
	t.Helper()
	dec := xml.NewDecoder(bytes.NewReader(data))
	for {
		token, err := dec.Token()
		if err == io.EOF {
			return
		}
		if err != nil {
			t.Errorf("%s: %v", name, err)
			return
		}
		e, ok := token.(xml.StartElement)
		if !ok {
			continue
		}
		if !strings.Contains(" svg title desc style g path text ", " "+e.Name.Local+" ") {
			t.Errorf("%s has <%s>", name, e.Name.Local)
		}
		for _, a := range e.Attr {
			if strings.HasPrefix(a.Name.Local, "on") || a.Name.Local == "href" {
				t.Errorf("%s has an attribute %s", name, a.Name.Local)
			}
		}
	}
}
