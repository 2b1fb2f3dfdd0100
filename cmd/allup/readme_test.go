package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// TestReadme runs the sessions of README.md and compares them with what stands there.
// Files come from toml blocks that begin with "# file: NAME". A line "..." stands for any
// lines, and "..." at a line's end for the rest of it.
func TestReadme(t *testing.T) {
	root := repository(t)
	name := filepath.Join(root, "README.md")
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	for _, folder := range []string{"builds", "bench"} {
		if err := os.CopyFS(filepath.Join(dir, "testdata", folder), os.DirFS(filepath.Join(root, "testdata", folder))); err != nil {
			t.Fatal(err)
		}
	}
	t.Chdir(dir)

	sessions := 0
	for _, m := range regexp.MustCompile("(?ms)^```(toml|console)\n(.*?)^```\n").FindAllStringSubmatch(string(text), -1) {
		kind, body := m[1], m[2]
		if kind == "toml" {
			if first, _, _ := strings.Cut(body, "\n"); strings.HasPrefix(first, "# file: ") {
				if err := os.WriteFile(strings.TrimPrefix(first, "# file: "), []byte(body), 0o644); err != nil {
					t.Error(err)
				}
			}
			continue
		}
		for _, step := range regexp.MustCompile(`(?m)^\$ `).Split(body, -1)[1:] {
			sessions++
			command, want, _ := strings.Cut(step, "\n")
			got := tell(t, 80, "", shellWords(command)...)
			if !matches(want, got.Out) {
				t.Errorf("README.md: $ %s\nsays (exit %d):\n%s%s\nREADME has:\n%s", command, got.Code, got.Err, got.Out, want)
			}
		}
	}
	if sessions == 0 {
		t.Error("README.md has no sessions")
	}
}

// shellWords splits a command of the README as a shell would, without the program's name.
func shellWords(command string) []string {
	var out []string
	for _, m := range regexp.MustCompile(`(?:[^\s"]|"[^"]*")+`).FindAllString(command, -1) {
		out = append(out, strings.ReplaceAll(m, `"`, ""))
	}
	return out[1:]
}

// matches compares output with what the README shows of it.
func matches(want, got string) bool {
	var pattern strings.Builder
	pattern.WriteString(`\A`)
	for line := range strings.Lines(want) {
		line = strings.TrimRight(line, "\n")
		switch {
		case line == "...":
			pattern.WriteString(`(?:.*\n)*?`)
		case strings.HasSuffix(line, " ..."):
			pattern.WriteString(regexp.QuoteMeta(strings.TrimSuffix(line, "...")) + `.*\n`)
		default:
			pattern.WriteString(regexp.QuoteMeta(line) + `\n`)
		}
	}
	pattern.WriteString(`\z`)
	return regexp.MustCompile(pattern.String()).MatchString(got)
}
