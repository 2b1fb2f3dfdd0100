package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"allup/catalog"
	"allup/model/words"
)

func newNew(a *app) *cobra.Command {
	kind := "build"
	cmd := &cobra.Command{
		Use:   "new [FILE]",
		Short: "Write a commented file to start from, which runs as it is",
		Long: `new writes a file to start from, with comments on its fields, to FILE or to
standard output: a build, a file of records of your own parts, a bench file with
two example logs beside it, or a thrust test. It never overwrites a file without
--force. "allup help records" explains every field.`,
		Args:              arguments(0, 1, "at most one file name"),
		ValidArgsFunction: completeBuild,
		RunE: func(cmd *cobra.Command, args []string) error {
			s, ok := catalog.StarterOf(kind)
			switch {
			case !ok:
				return usagef("--kind %.80q is not a kind of file; allowed: %s", kind, strings.Join(catalog.StarterKinds(), ", "))
			case cmd.Flags().Changed("format"):
				return usagef("new writes a TOML file and takes no --format")
			case len(args) == 1 && args[0] != "-" && a.outFile != "":
				return usagef("new takes a file name or --out, not both")
			case len(args) == 1 && args[0] != "-":
				a.outFile = args[0]
			}
			if a.outFile == "" {
				return a.write(s.Text)
			}
			for _, file := range s.Names(a.outFile) {
				if err := a.keep("new", file); err != nil {
					return err
				}
			}
			names, err := catalog.WriteStarter(a.outFile, s, a.force)
			if err != nil || a.quiet {
				return err
			}
			_, err = fmt.Fprintf(a.out, "Wrote %s. Next: %s\n", words.Clean(words.List(names, "and")), words.Clean(nextStep(kind, a.outFile)))
			return err
		},
	}
	cmd.Flags().StringVar(&kind, "kind", kind, "`kind` of file: "+strings.Join(catalog.StarterKinds(), ", "))
	completeFlag(cmd, "kind", catalog.StarterKinds)
	return cmd
}

// nextStep is what a file of a kind is for.
func nextStep(kind, file string) string {
	switch kind {
	case "parts":
		return fmt.Sprintf("allup parts --parts %s, and in a build parts = [%q]", file, file)
	case "bench":
		return fmt.Sprintf("allup reduce %s --records tested.toml", file)
	case "thrust-test":
		return fmt.Sprintf("allup parts my-stand --parts %s, and in a build parts = [%q]", file, file)
	}
	return "allup rank " + file
}
