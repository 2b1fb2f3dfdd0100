package main

import (
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

// A page shows the command that made it as a shell would take it again.
func TestCommandLineIsShellWords(t *testing.T) {
	for _, tt := range []struct {
		args []string
		want string
	}{
		{[]string{"my build.toml"}, "allup report 'my build.toml'"},
		{[]string{"it's.toml"}, `allup report 'it'\''s.toml'`},
		{[]string{"plain.toml", "--quiet"}, "allup report plain.toml --quiet"},
		{[]string{"a;b.toml", "--parts", "one.toml", "--parts", "two parts.toml"}, "allup report 'a;b.toml' --parts one.toml --parts 'two parts.toml'"},
		{[]string{"`id`.toml", "--out", "~#[a]{b}!.html", "--parts", ""}, "allup report '`id`.toml' --out '~#[a]{b}!.html' --parts ''"},
		{[]string{"a\\b.toml", "--parts", "\x1b[2J'\n\\\u202e\xff"}, `allup report 'a\b.toml' --parts $'\x1b[2J\'\n\\\u202e\xff'`},
		{[]string{"b.toml", "--out", "$HOME.html", "--quiet=false"}, "allup report b.toml --out '$HOME.html' --quiet=false"},
	} {
		root := &cobra.Command{Use: "allup"}
		var got string
		report := &cobra.Command{Use: "report", RunE: func(cmd *cobra.Command, args []string) error {
			got = strings.Join(commandLine(cmd, args), " ")
			return nil
		}}
		report.Flags().StringArray("parts", nil, "")
		report.Flags().String("out", "", "")
		report.Flags().Bool("quiet", true, "")
		root.AddCommand(report)
		root.SetArgs(append([]string{"report"}, tt.args...))
		if err := root.Execute(); err != nil {
			t.Fatal(err)
		}
		if got != tt.want {
			t.Errorf("%q: %s, want %s", tt.args, got, tt.want)
		}
	}
}
