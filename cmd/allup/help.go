package main

import (
	"strings"

	"github.com/spf13/cobra"

	"allup/catalog"
	"allup/cmd/allup/internal/sheet"
)

// helpWidth is how wide help is drawn, on any terminal.
const helpWidth = 80

// recordsTopic is the help topic of every field of every file.
const recordsTopic = "records"

// manTopic is the help topic that is the manual page.
const manTopic = "man"

// newHelp is cobra's help command, for which an unknown topic is not a yes, with a topic of its own.
func newHelp(a *app, root *cobra.Command) *cobra.Command {
	return &cobra.Command{
		Use:   "help [COMMAND]",
		Short: "Help about a command, or \"help records\": every field of every file",
		Long: `help explains a command. "help records" lists every field of records, builds and
bench files, with what it may hold; "help records pack" those of one kind.
"help man" writes the manual page: allup help man >allup.1; man ./allup.1`,
		ValidArgsFunction: func(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
			return helpTopics(root, args), cobra.ShellCompDirectiveNoFileComp
		},
		RunE: func(_ *cobra.Command, args []string) error {
			switch {
			case len(args) > 0 && args[0] == recordsTopic:
				return a.helpRecords(args[1:])
			case len(args) == 1 && args[0] == manTopic:
				return a.write(manPage(root))
			}
			cmd, rest, err := root.Find(args)
			if err != nil || len(rest) > 0 {
				return usagef("no help on %.80q; allup --help lists the commands, and there is help records", strings.Join(args, " "))
			}
			return cmd.Help()
		},
	}
}

// helpTopics are what help can be asked for.
func helpTopics(root *cobra.Command, args []string) []string {
	if len(args) > 0 {
		return nil
	}
	topics := []string{recordsTopic, manTopic}
	for _, c := range root.Commands() {
		if c.IsAvailableCommand() {
			topics = append(topics, c.Name())
		}
	}
	return topics
}

// helpRecords shows every field, or those of tables whose heading has a word in it.
func (a *app) helpRecords(words []string) error {
	if len(words) > 1 {
		return usagef("help records takes at most one kind, such as pack or build, got %d", len(words))
	}
	var tables []catalog.FieldTable
	for _, t := range catalog.Fields() {
		if len(words) == 0 || t.Of == words[0] || named(t.Head, words[0]) {
			tables = append(tables, t)
		}
	}
	if len(tables) == 0 {
		return usagef("help records has nothing on %.80q; try pack, motor, build or bench", words[0])
	}
	s := fieldsScreen(tables)
	if a.width == 0 || a.width > helpWidth {
		a.width = helpWidth
	}
	return a.answer(s, fieldsJSON(tables))
}

// named reports whether a heading has a word, "pack" in "[pack.ID.tested]".
func named(head, word string) bool {
	for _, w := range strings.FieldsFunc(head, func(r rune) bool { return !(r >= 'a' && r <= 'z' || r == '_') }) {
		if w == word {
			return true
		}
	}
	return false
}

func fieldsScreen(tables []catalog.FieldTable) sheet.Screen {
	s := sheet.Screen{Verdict: []string{"Every field that allup reads. Numbers have the unit in their name; decimals have a point; text after # is a comment."}}
	s.Sheet = &sheet.Table{}
	for _, key := range []string{"file", "table", "field", "needed", "holds", "text"} {
		s.Sheet.Columns = append(s.Sheet.Columns, sheet.Column{Head: key, Key: key})
	}
	for _, t := range tables {
		table := &sheet.Table{Title: t.Head + ": " + t.Text, Columns: []sheet.Column{
			{Head: "field", Key: "field", Left: true},
			{Head: "what it is", Key: "text", Left: true, Wrap: true},
		}}
		for _, f := range t.Fields {
			needed, text := "no", f.Text
			if f.Needed {
				needed, text = "yes", "NEEDED: "+text
			}
			table.Add(sheet.Word(f.Name), sheet.Word(text+" ("+f.Holds+")"))
			s.Sheet.Add(sheet.Word(t.Of), sheet.Word(t.Head), sheet.Word(f.Name), sheet.Word(needed), sheet.Word(f.Holds), sheet.Word(f.Text))
		}
		s.Tables = append(s.Tables, table)
	}
	return s
}

type jsonField struct {
	File   string `json:"file"`
	Table  string `json:"table"`
	Field  string `json:"field"`
	Needed bool   `json:"needed"`
	Holds  string `json:"holds"`
	Text   string `json:"text"`
}

func fieldsJSON(tables []catalog.FieldTable) any {
	list := []jsonField{}
	for _, t := range tables {
		for _, f := range t.Fields {
			list = append(list, jsonField{t.Of, t.Head, f.Name, f.Needed, f.Holds, f.Text})
		}
	}
	return struct {
		Fields []jsonField `json:"fields"`
	}{list}
}

// showHelp is a command's help: what it does, folded at the width of help, and how it is used.
func showHelp(cmd *cobra.Command, _ []string) {
	text := cmd.Long
	if text == "" {
		text = cmd.Short
	}
	cmd.Print(foldParagraphs(text, helpWidth) + "\n\n" + cmd.UsageString())
}

// foldParagraphs folds each paragraph anew; lines that are set in keep their own.
func foldParagraphs(text string, width int) string {
	var out, paragraph []string
	end := func() {
		if len(paragraph) > 0 {
			out = append(out, sheet.Fold(strings.Join(paragraph, " "), width)...)
		}
		paragraph = nil
	}
	for line := range strings.Lines(text) {
		line = strings.TrimRight(line, " \n")
		if line == "" || line[0] == ' ' {
			end()
			out = append(out, line)
			continue
		}
		paragraph = append(paragraph, line)
	}
	end()
	return strings.Join(out, "\n")
}

// usageTemplate is cobra's own, with flags folded at the width of help.
const usageTemplate = `Usage:{{if .Runnable}}
  {{.UseLine}}{{end}}{{if .HasAvailableSubCommands}}
  {{.CommandPath}} [command]{{end}}{{if .HasExample}}

Examples:
{{.Example}}{{end}}{{if .HasAvailableSubCommands}}

Commands:{{range .Commands}}{{if (or .IsAvailableCommand (eq .Name "help"))}}
  {{rpad .Name .NamePadding }} {{.Short}}{{end}}{{end}}{{end}}{{if .HasAvailableLocalFlags}}

Flags:
{{.LocalFlags.FlagUsagesWrapped 80 | trimTrailingWhitespaces}}{{end}}{{if .HasAvailableInheritedFlags}}

Flags of every command:
{{.InheritedFlags.FlagUsagesWrapped 80 | trimTrailingWhitespaces}}{{end}}{{if .HasAvailableSubCommands}}

"{{.CommandPath}} [command] --help" says more about a command.{{end}}
`
