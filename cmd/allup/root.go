package main

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"allup/catalog"
	"allup/cmd/allup/internal/sheet"
	"allup/model/words"
	"allup/planner"
)

// exitCode is what the program says to a shell.
type exitCode int

// Exit codes. They are part of the interface.
const (
	exitYes   exitCode = 0 // the answer is yes, or plain output
	exitFail  exitCode = 1 // something failed: a file, a write
	exitInput exitCode = 2 // bad input or usage
	exitNo    exitCode = 3 // the answer is no
)

// errNo is the answer no. Its output has been written by then.
var errNo = errors.New("the answer is no")

// usageError is a command line that cannot be meant.
type usageError struct{ err error }

func (e usageError) Error() string { return e.err.Error() }
func (e usageError) Unwrap() error { return e.err }

func usagef(format string, args ...any) error { return usageError{fmt.Errorf(format, args...)} }

// run is the whole program: streams and arguments in, exit code out.
func run(s *streams, args []string) exitCode {
	with := *s
	s = &with
	out := &checkedWriter{w: s.out}
	s.out = out
	root := newRoot(s)
	root.SetArgs(slices.Clone(args))
	root.SetIn(s.in)
	root.SetOut(s.out)
	root.SetErr(s.err)
	err := cmp.Or(root.Execute(), out.err) // help is written by cobra, which drops the error
	var input catalog.InputErrors
	var one catalog.InputError
	var usage usageError
	switch {
	case err == nil:
		return exitYes
	case errors.Is(err, errNo):
		return exitNo
	case errors.As(err, &input):
		fmt.Fprintln(s.err, cleanLines(input.Error()))
		fmt.Fprintf(s.err, "allup: %s; nothing was done\n", words.Count(input.Count(), "error in the input", "errors in the input"))
		return exitInput
	case errors.As(err, &one):
		fmt.Fprintf(s.err, "allup: error: %s\n", words.Clean(one.Error()))
		return exitInput
	case errors.As(err, &usage), strings.HasPrefix(err.Error(), "unknown command "):
		fmt.Fprintf(s.err, "allup: error: %s\n", cleanLines(err.Error()))
		fmt.Fprintln(s.err, "allup: hint: allup --help, or allup COMMAND --help")
		return exitInput
	default:
		fmt.Fprintf(s.err, "allup: error: %s\n", words.Clean(err.Error()))
		return exitFail
	}
}

// cleanLines cleans a text of several lines line by line.
func cleanLines(s string) string {
	lines := strings.Split(s, "\n")
	for i := range lines {
		lines[i] = words.Clean(lines[i])
	}
	return strings.Join(lines, "\n")
}

// app is what every command shares: streams and the shared flags.
type app struct {
	*streams
	parts       []string
	noBuiltin   bool
	noUserParts bool
	demo        bool
	format      format
	columns     []string
	outFile     string
	force       bool
	quiet       bool
	odd         []catalog.Warning // what is odd in the files that an answer is made from
	moreOdd     int               // of these, beyond those kept
	waiting     []catalog.NewFile // to be written together, see beside
	folders     []string          // of these, to be made

	inputs
}

// newRoot assembles the command tree.
func newRoot(s *streams) *cobra.Command {
	a := &app{streams: s, format: formatTable, inputs: inputs{in: s.in}}
	root := &cobra.Command{
		Use:   "allup",
		Short: "Plan builds of sub-250 g drones: what they weigh, which packs suit them, what a swap changes",
		Long: `allup plans builds of sub-250 g drones. Describe a build in a TOML file; allup
says what it weighs, which packs suit it, and what a swap changes.
Begin with "allup new mine.toml"; "allup help records" explains every field.

It states masses and comparisons. Whether you may fly is for your local rules
and authority; what a part may carry is for its maker. Packs burn and propellers
cut: see "allup limits" for cautions.

Exit codes: 0 the answer is yes, or plain output; 1 something failed; 2 bad
input or usage; 3 the answer is no (over the limit, no pack fits).`,
		Version:       version(),
		SilenceErrors: true,
		SilenceUsage:  true,
		RunE:          func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	root.SetVersionTemplate("{{.Name}} {{.Version}}\n")
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return usageError{err} })

	root.PersistentPreRunE = func(cmd *cobra.Command, _ []string) error {
		if a.outFile == "" && cmd.Flags().Changed("out") {
			return usagef("--out names no file")
		}
		if a.outFile == "-" {
			a.outFile = ""
		}
		if !cmd.Flags().Changed("format") {
			a.format = formatOf(a.outFile)
		}
		for _, p := range a.parts {
			a.name(p)
		}
		return nil
	}
	flags := root.PersistentFlags()
	flags.StringArrayVar(&a.parts, "parts", nil, "file or folder of `records` over the built-in ones (repeatable)")
	flags.BoolVar(&a.noBuiltin, "no-builtin", false, "leave out the built-in demo catalogue")
	flags.BoolVar(&a.noUserParts, "no-user-parts", false, "leave out the records of your own parts folder")
	flags.BoolVar(&a.demo, "demo", false, "also choose from the invented demo packs where there are packs of your own")
	flags.Var(&a.format, "format", "`form` of the answer: table, json, csv or markdown")
	flags.StringVarP(&a.outFile, "out", "o", "", "write the answer to `FILE`, whole or not at all; .csv, .json and .md say in which form")
	flags.StringSliceVar(&a.columns, "columns", nil, "show these `columns` alone, by the keys of CSV: pack,all_up_g,flight_min")
	flags.BoolVar(&a.force, "force", false, "let --out, or new, overwrite a file")
	flags.BoolVar(&a.quiet, "quiet", false, "no warnings or progress on standard error")
	completeFlag(root, "format", formats)

	root.SetHelpCommand(newHelp(a, root))
	root.SetUsageTemplate(usageTemplate)
	root.SetHelpFunc(showHelp)
	root.AddCommand(newNew(a), newWeigh(a), newRank(a), newSwap(a), newSize(a), newSearch(a), newReduce(a), newField(a), newParts(a), newLimits(a), newReport(a))
	root.InitDefaultCompletionCmd()
	for _, c := range root.Commands() {
		if c.Name() == "completion" { // cobra's own, which takes any word for a call of help
			c.Args = arguments(0, 0, "bash, fish, powershell or zsh")
			c.RunE = func(cmd *cobra.Command, _ []string) error { return cmd.Help() }
		}
	}
	return root
}

// format is the form of an answer.
type format string

const (
	formatTable    format = "table"
	formatJSON     format = "json"
	formatCSV      format = "csv"
	formatMarkdown format = "markdown"
)

func formats() []string {
	return []string{string(formatTable), string(formatJSON), string(formatCSV), string(formatMarkdown)}
}

func (f *format) String() string { return string(*f) }
func (f *format) Type() string   { return "form" }
func (f *format) Set(v string) error {
	if !slices.Contains(formats(), v) {
		return fmt.Errorf("it is one of %s", strings.Join(formats(), ", "))
	}
	*f = format(v)
	return nil
}

// formatOf is the form that the name of a file asks for.
func formatOf(file string) format {
	switch strings.ToLower(filepath.Ext(file)) {
	case ".json":
		return formatJSON
	case ".csv":
		return formatCSV
	case ".md", ".markdown":
		return formatMarkdown
	}
	return formatTable
}

// arguments checks how many words follow a command, and says what they are.
func arguments(least, most int, what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) < least || most >= 0 && len(args) > most {
			return usagef("%s takes %s, got %d", cmd.CommandPath(), what, len(args))
		}
		return nil
	}
}

// answer writes one answer in the form that was asked for.
func (a *app) answer(s sheet.Screen, json any) error {
	return a.answerOf(func() sheet.Screen { return s }, func() any { return json })
}

// answerOf is answer where the forms are large: only the one that was asked for is made.
func (a *app) answerOf(screen func() sheet.Screen, json func() any) error {
	var data []byte
	var s sheet.Screen
	var err error
	if a.format != formatJSON {
		s = screen()
		s.Notes = append(a.oddNotes(), s.Notes...)
	}
	if a.format == formatCSV {
		s = a.withWarnings(s)
	}
	if len(a.columns) > 0 {
		if s, err = a.chosen(s); err != nil {
			return err
		}
	}
	switch a.format {
	case formatJSON:
		return a.writeJSON(json())
	case formatCSV:
		data, err = s.CSV()
	case formatMarkdown:
		data, err = s.Markdown()
	default:
		v := sheet.Viewer{}
		if a.outFile == "" {
			v = sheet.Viewer{Width: a.width, Colour: a.colour}
		}
		data, err = v.Text(s)
	}
	if err != nil {
		return err
	}
	return a.write(data)
}

// chosen is a screen with the columns that were asked for.
func (a *app) chosen(s sheet.Screen) (sheet.Screen, error) {
	var err error
	switch a.format {
	case formatJSON:
		return s, usagef("--columns are those of a table, CSV or Markdown; JSON has everything")
	case formatCSV:
		s, err = s.ChooseSheet(a.columns)
	default:
		s, err = s.Choose(a.columns)
	}
	if err != nil {
		return s, usagef("--columns: %w", err)
	}
	return s, nil
}

// writeJSON is write for an answer in JSON. One that is very large goes to standard output as it is made.
func (a *app) writeJSON(answer any) error {
	text := pages{over: a.out}
	if a.outFile != "" {
		text.over = nil
	}
	held := tail{over: &text}
	if err := sheet.WriteJSON(&held, answer); err != nil {
		return err
	}
	if err := a.endJSON(&held); err != nil {
		return err
	}
	if a.outFile != "" {
		return a.write(slices.Concat(text.list...))
	}
	return text.flush()
}

// pages keep what is written to them, without moving it as it grows, and send it on where it becomes too much to keep.
type pages struct {
	list [][]byte
	over io.Writer // nil keeps everything
}

const (
	pageSize  = 1 << 20
	mostPages = 64
)

func (p *pages) Write(text []byte) (int, error) {
	if last := len(p.list) - 1; last < 0 || len(p.list[last])+len(text) > cap(p.list[last]) {
		if len(p.list) >= mostPages && p.over != nil {
			if err := p.flush(); err != nil {
				return 0, err
			}
		}
		p.list = append(p.list, make([]byte, 0, max(pageSize, len(text))))
	}
	last := len(p.list) - 1
	p.list[last] = append(p.list[last], text...)
	return len(text), nil
}

// flush sends on what is kept.
func (p *pages) flush() error {
	for _, page := range p.list {
		if _, err := p.over.Write(page); err != nil {
			return err
		}
	}
	p.list = nil
	return nil
}

// write sends an answer to --out, with the files that wait for it, or to standard output, whole.
func (a *app) write(data []byte) error {
	if a.outFile != "" {
		if err := a.keep("--out", a.outFile); err != nil {
			return err
		}
		a.waiting = append(a.waiting, catalog.NewFile{Name: a.outFile, Data: data})
		return a.writeFiles()
	}
	_, err := io.Copy(a.out, bytes.NewReader(data))
	return err
}

// catalogue loads the records: built-in, the user's own, those that a build names, --parts, later ones over earlier.
func (a *app) catalogue(named ...catalog.Layer) (*catalog.Catalogue, error) {
	var layers []catalog.Layer
	var own string // the folder of the user's records, where it is read
	if !a.noBuiltin {
		layers = append(layers, catalog.Builtin())
	}
	// Without a home there is no folder of the user's, which is fine.
	if dir, err := a.userParts(); err == nil && !a.noUserParts {
		layer, err := catalog.UserLayer(dir)
		if err != nil {
			return nil, withoutUserParts(err)
		}
		own = dir
		layers = append(layers, layer)
	}
	layers = append(layers, named...)
	for _, p := range a.parts {
		if p == "" {
			return nil, usagef("--parts names no file or folder")
		}
		layer, err := catalog.PathLayer(p)
		if err != nil {
			return nil, err
		}
		layers = append(layers, layer)
	}
	for i := range layers {
		layers[i] = a.watchLayer(layers[i])
	}
	cat, warnings, err := catalog.Load(layers...)
	if err != nil {
		if path, ok := errors.AsType[*fs.PathError](err); ok && own != "" && strings.HasPrefix(path.Path, filepath.ToSlash(own)) {
			err = withoutUserParts(err)
		}
		return nil, err
	}
	a.warn(warnings)
	if a.demo {
		cat = cat.WithDemoPacks()
	}
	return cat, nil
}

// withoutUserParts says the way round a folder of records that cannot be read.
func withoutUserParts(err error) error {
	return fmt.Errorf("%w; --no-user-parts leaves your parts folder out", err)
}

// build reads a build file, or standard input for "-", against the catalogue and the records that it names.
func (a *app) build(name string) (*catalog.Build, error) {
	in, shown, err := a.open("build", name)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	file, err := catalog.OpenBuild(shown, in)
	if err != nil {
		return nil, err
	}
	cat, err := a.catalogue(file.Layers...)
	if err != nil {
		return nil, err
	}
	b, warnings, err := file.Read(cat)
	if err != nil {
		return nil, err
	}
	a.warn(warnings)
	return b, nil
}

// plan reads a build and makes it ready.
func (a *app) plan(name string) (*planner.Plan, error) {
	b, err := a.build(name)
	if err != nil {
		return nil, err
	}
	return planner.Resolve(b)
}

// warn shows what is odd in the files, as much of it as anybody reads.
func (a *app) warn(warnings []catalog.Warning) {
	a.keepOdd(warnings)
	if a.quiet || a.shownInAnswer() {
		return
	}
	for i, w := range warnings {
		if i == mostWarnings {
			fmt.Fprintf(a.err, "allup: warning: %d more of these\n", catalog.CountWarnings(warnings[i:]))
			break
		}
		fmt.Fprintf(a.err, "allup: warning: %s\n", words.Clean(fmt.Sprint(w)))
	}
}
