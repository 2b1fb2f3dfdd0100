package main

import (
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// manPage is the manual page of the program in roff, made of the same texts as its help.
func manPage(root *cobra.Command) []byte {
	var m manual
	m.line(`.TH ALLUP 1 "" allup "User Commands"`)
	m.section("NAME")
	m.text(root.Name() + " - " + root.Short)
	m.section("SYNOPSIS")
	for _, c := range root.Commands() {
		if shown(c) {
			m.line(".B " + roff(c.UseLine()))
			m.line(".br")
		}
	}
	m.section("DESCRIPTION")
	m.text(root.Long)
	m.section("COMMANDS")
	for _, c := range root.Commands() {
		if !shown(c) {
			continue
		}
		m.line(`.SS "` + roff(c.Name()) + `"`)
		if c.Name() == "completion" { // cobra's own text is one for each shell
			m.text("Writes what a shell needs to complete words: completion bash, fish, powershell or zsh. Each says how it is loaded.")
			continue
		}
		m.text(c.Long)
		m.flags(c.LocalNonPersistentFlags())
	}
	m.section("FLAGS OF EVERY COMMAND")
	m.flags(root.PersistentFlags())
	m.section("FILES")
	m.text("Records of your own parts are read from allup/parts in your configuration folder: $XDG_CONFIG_HOME or ~/.config on most systems.")
	m.section("ENVIRONMENT")
	m.text("COLUMNS is the width of tables in a pipe. With NO_COLOR, or TERM=dumb, there is no colour.")
	return []byte(m.String())
}

// shown reports whether help lists a command, as its template does.
func shown(c *cobra.Command) bool { return c.IsAvailableCommand() || c.Name() == "help" }

// manual is a manual page being written.
type manual struct{ strings.Builder }

// line writes a line that is a request or has been escaped.
func (m *manual) line(s string) { m.WriteString(s + "\n") }

func (m *manual) section(name string) { m.line(`.SH "` + name + `"`) }

// text writes paragraphs. Lines that are set in keep their own.
func (m *manual) text(s string) {
	if s == "" {
		return
	}
	for paragraph := range strings.SplitSeq(s, "\n\n") {
		m.line(".PP")
		for line := range strings.SplitSeq(paragraph, "\n") {
			if strings.HasPrefix(line, " ") {
				m.line(".br")
			}
			m.line(roff(strings.TrimSpace(line)))
		}
	}
}

// flags lists flags, each with what it is.
func (m *manual) flags(set *pflag.FlagSet) {
	set.VisitAll(func(f *pflag.Flag) {
		if f.Hidden || f.Name == "help" {
			return
		}
		value, usage := pflag.UnquoteUsage(f)
		name := "--" + f.Name
		if f.Shorthand != "" {
			name = "-" + f.Shorthand + ", " + name
		}
		m.line(".TP")
		m.line(".B " + roff(strings.TrimSpace(name+" "+value)))
		m.line(roff(usage))
	})
}

// roff escapes a line of text: no character of it is a request, and a hyphen is one that can be typed.
func roff(s string) string {
	s = strings.NewReplacer(`\`, `\e`, "-", `\-`, `"`, `\(dq`).Replace(s)
	if strings.HasPrefix(s, ".") || strings.HasPrefix(s, "'") {
		s = `\&` + s
	}
	return s
}
