package main

import (
	"runtime/debug"
	"strings"
	"testing"
	"unicode/utf8"
)

// TestHelpFits holds that no help has a line of more than 80 characters, on any terminal.
func TestHelpFits(t *testing.T) {
	root := newRoot(&streams{})
	commands := [][]string{{"--help"}, {"help", "records"}}
	for _, c := range root.Commands() {
		commands = append(commands, []string{c.Name(), "--help"})
		for _, sub := range c.Commands() {
			if c.Name() != "completion" { // cobra's own texts
				commands = append(commands, []string{c.Name(), sub.Name(), "--help"})
			}
		}
	}
	if len(commands) < 10 {
		t.Fatalf("only %d commands", len(commands))
	}
	for _, width := range []int{0, 60, 80, 200} {
		for _, args := range commands {
			got := tell(t, width, "", args...)
			if got.Code != exitYes || got.Out == "" {
				t.Errorf("%v: exit %d, %d bytes", args, got.Code, len(got.Out))
			}
			for line := range strings.Lines(got.Out) {
				if line = strings.TrimRight(line, "\n"); utf8.RuneCountInString(line) > 80 {
					t.Errorf("%v: a line of %d characters:\n%s", args, utf8.RuneCountInString(line), line)
				}
			}
		}
	}
}

func TestVersionOf(t *testing.T) {
	for want, info := range map[string]*debug.BuildInfo{
		"(devel), go1.26": {GoVersion: "go1.26"},
		"v1.2.0, go1.26":  {GoVersion: "go1.26", Main: debug.Module{Version: "v1.2.0"}},
		"(devel), revision 0123456789ab, 2026-05-31T10:00:00Z, changed since, go1.26": {
			GoVersion: "go1.26", Main: debug.Module{Version: "(devel)"},
			Settings: []debug.BuildSetting{
				{Key: "vcs.revision", Value: "0123456789abcdef"}, {Key: "vcs.time", Value: "2026-05-31T10:00:00Z"}, {Key: "vcs.modified", Value: "true"},
			},
		},
	} {
		if got := versionOf(info); got != want {
			t.Errorf("versionOf = %q, want %q", got, want)
		}
	}
}
