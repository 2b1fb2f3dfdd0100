package main

import (
	"regexp"
	"strings"
	"testing"

	"github.com/spf13/pflag"
)

// The manual page has every command and every flag, and no line that roff would take for a request
// without its being one.
func TestManPage(t *testing.T) {
	page := tell(t, 0, "", "help", "man")
	if page.Code != exitYes || page.Err != "" {
		t.Fatalf("exit %d, %s", page.Code, page.Err)
	}
	request := regexp.MustCompile(`^\.(TH|SH|SS|PP|TP|B|br)( |$)`)
	for line := range strings.Lines(page.Out) {
		if line = strings.TrimRight(line, "\n"); line == "" || strings.ContainsRune(".'", rune(line[0])) && !request.MatchString(line) {
			t.Errorf("a line %q", line)
		}
		if strings.Contains(strings.ReplaceAll(line, `\-`, ""), "-") {
			t.Errorf("a hyphen that is none when it is copied: %q", line)
		}
	}
	root := newRoot(&streams{})
	missing := func(of string, f *pflag.Flag) {
		if f.Name != "help" && !strings.Contains(page.Out, `\-\-`+strings.ReplaceAll(f.Name, "-", `\-`)) {
			t.Errorf("no --%s of %s", f.Name, of)
		}
	}
	commands := 0
	for _, c := range root.Commands() {
		if !c.IsAvailableCommand() {
			continue
		}
		commands++
		if !strings.Contains(page.Out, "\n.SS \""+c.Name()+"\"\n") {
			t.Errorf("no section on %s", c.Name())
		}
		c.LocalNonPersistentFlags().VisitAll(func(f *pflag.Flag) { missing(c.Name(), f) })
	}
	root.PersistentFlags().VisitAll(func(f *pflag.Flag) { missing("every command", f) })
	if commands < 10 {
		t.Errorf("%d commands", commands)
	}
	if got, want := roff(`.it's a "-5" \n`), `\&.it's a \(dq\-5\(dq \en`; got != want {
		t.Errorf("roff = %s, want %s", got, want)
	}
}
