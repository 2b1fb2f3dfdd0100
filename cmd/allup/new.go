package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"allup/catalog"
	"allup/model/words"
)

func newNew(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "new [FILE]",
		Short: "Write a commented starter build that runs as it is",
		Long: `new writes a build file to start from, with every field explained, to FILE or to standard
output. It never overwrites a file without --force.`,
		Args:              arguments(0, 1, "at most one file name"),
		ValidArgsFunction: completeBuild,
		RunE: func(_ *cobra.Command, args []string) error {
			if a.format != formatTable {
				return usagef("new writes a build file and takes no --format")
			}
			if len(args) == 1 && args[0] != "-" {
				if a.outFile != "" {
					return usagef("new takes a file name or --out, not both")
				}
				a.outFile = args[0]
			}
			if err := a.write(catalog.Starter()); err != nil {
				return err
			}
			if a.outFile != "" && !a.quiet {
				_, err := fmt.Fprintf(a.out, "Wrote %s. Next: allup rank %s\n", words.Clean(a.outFile), words.Clean(a.outFile))
				return err
			}
			return nil
		},
	}
}
